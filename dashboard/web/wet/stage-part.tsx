import { useSignal } from '@preact/signals'
import type { WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import type { SeepScheme } from '#analysis/fuel-work/seep-classes.ts'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { Segmented } from '../parts/segmented.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { Choice, Field, Judge, localMoment, stated, TimeField } from './judge.tsx'
import { type Look, LookTable } from './look-table.tsx'
import { type Photo, PhotoField } from './photo-field.tsx'

/** The first fuel, stage by stage: what to do, every look with its time, photos. */
export function StagePart({ system }: { system: System }) {
  const { value, error } = useAnswer<{ stages: WetStage[]; scheme: SeepScheme }>('/api/wet').value
  if (error) return <p class="note is-undecided">{error}</p>
  return value && <Stages system={system} wetStages={value.stages} scheme={value.scheme} />
}

function Stages(props: { system: System; wetStages: readonly WetStage[]; scheme: SeepScheme }) {
  const { system, wetStages, scheme } = props
  const stage = useSignal(wetStages[0].name)
  const sections = useSignal<readonly string[]>([])
  const form = useSignal({ began: localMoment(new Date()), fuel: 'avgas', temperature: '', hold: '' })
  const looks = useSignal<readonly Look[]>([])
  const dryAbove = useSignal<readonly string[]>([])
  const photos = useSignal<readonly Photo[]>([])
  const done = useSignal<readonly number[]>([])
  const found = useSignal<readonly WetResult[]>([])
  const now = wetStages.find(({ name }) => name === stage.value)!
  const is = form.value
  const set = (key: keyof typeof is) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const reached = system.fittings.filter(({ section }) => sections.value.includes(section))
  const wetted = reached.filter(({ id }) => !dryAbove.value.includes(id))
  const change = (at: number, part: Partial<Look>) => {
    looks.value = looks.value.map((look, i) => (i === at ? { ...look, ...part } : look))
  }
  const sheet = () =>
    stated({
      stage: stage.value,
      sections: sections.value,
      fittings: wetted.map(({ id }) => id),
      began: is.began === '' ? '' : new Date(is.began).toISOString(),
      fuel: is.fuel,
      temperature: is.temperature,
      done: [...done.value].sort((a, b) => a - b),
      'hold-record': stage.value === 'pump-on' ? is.hold : '',
      looks: looks.value
        .filter(({ fitting }) => wetted.some(({ id }) => id === fitting))
        .map(({ fitting, finding, after, spread, wiped, head }) =>
          stated({ fitting, finding, after, spread, 'since-wipe': wiped, head }),
        ),
    })
  return (
    <section class="panel stack">
      <h2>First fuel</h2>
      <p class="note is-undecided">
        No ignition source, extinguisher at hand, tank and can bonded, gloves and eye protection. The kit or
        airframe maker’s instructions come first.
      </p>
      <Segmented
        legend="Stage"
        options={wetStages.map(({ name, title }, i) => ({ value: name, word: `${i + 1}. ${title}` }))}
        value={stage.value}
        onPick={(name) => {
          stage.value = name
          done.value = []
        }}
      />
      <ul>
        {now.steps.map((step, i) => (
          <li key={step}>
            <label class="check">
              <input
                type="checkbox"
                checked={done.value.includes(i + 1)}
                onChange={(event) => {
                  done.value = event.currentTarget.checked
                    ? [...done.value, i + 1]
                    : done.value.filter((one) => one !== i + 1)
                }}
              />
              {step}
            </label>
          </li>
        ))}
      </ul>
      <p>
        Last look at least {duration(now.soakS)} after the beginning.{' '}
        {now.proves ? 'Dry then is proof, of its own kind.' : 'Dry then is leave to go on, not yet proof.'}
      </p>
      <div class="filters wet-fields">
        <TimeField label="Began" type="datetime-local" value={is.began} onInput={set('began')} />
        <Choice
          label="Fuel"
          value={is.fuel}
          options={['avgas', 'mogas', 'jet-a'].map((one) => [one, one] as const)}
          onPick={set('fuel')}
        />
        <Field label="Its temperature, such as 15 degC" value={is.temperature} onInput={set('temperature')} />
        {stage.value === 'pump-on' && (
          <Field label="Record of the liquid hold" value={is.hold} onInput={set('hold')} />
        )}
      </div>
      <fieldset class="row">
        <legend>Fuel stands in</legend>
        {system.sections.map(({ id }) => (
          <label key={id} class="check">
            <input
              type="checkbox"
              checked={sections.value.includes(id)}
              onChange={(event) => {
                sections.value = event.currentTarget.checked
                  ? [...sections.value, id]
                  : sections.value.filter((one) => one !== id)
              }}
            />
            {id}
          </label>
        ))}
      </fieldset>
      {reached.length > 0 && (
        <fieldset class="row">
          <legend>Fuel touches</legend>
          {reached.map(({ id, name }) => (
            <label key={id} class="check">
              <input
                type="checkbox"
                checked={!dryAbove.value.includes(id)}
                onChange={(event) => {
                  dryAbove.value = event.currentTarget.checked
                    ? dryAbove.value.filter((one) => one !== id)
                    : [...dryAbove.value, id]
                }}
              />
              {id} {name}
            </label>
          ))}
        </fieldset>
      )}
      <h3>Looks</h3>
      <div class="row">
        {wetted.map(({ id }) => (
          <button
            key={id}
            type="button"
            onClick={() => {
              const minutes = Math.max(0, Math.round((Date.now() - new Date(is.began).getTime()) / 60_000))
              const after = `${minutes} min`
              looks.value = [
                ...looks.value,
                { fitting: id, finding: 'dry', after, spread: '', wiped: '', head: '' },
              ]
            }}
          >
            Look at {id}
          </button>
        ))}
      </div>
      {looks.value.length > 0 && <LookTable looks={looks.value} onChange={change} />}
      <p class="small soft">
        Classes by {scheme.name} ({scheme.source}); the scheme is kept with every look.
      </p>
      <PhotoField photos={photos} />
      <Judge<WetResult> path="/api/wet" found={found} sheet={sheet} photos={photos.value} />
    </section>
  )
}
