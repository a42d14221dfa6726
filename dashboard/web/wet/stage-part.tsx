import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import type { System } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import type { SavedSheet } from '#dashboard/api.ts'
import { get, post } from '../api-client.ts'
import { mayOperate } from '../live/bench.ts'

import { Choice, Field, Judge } from './judge.tsx'
import { type Known, Looks, type PartProps } from './looks.tsx'
import { person, shortTime } from './person.ts'
import { type Photo, PhotoField } from './photo-field.tsx'
import { Steps } from './steps.tsx'

/** Open sheets are read again this often: another device may have made an entry. */
const rereadMs = 5000

/** The fuelling checks: one saved sheet a stage, open on any device. */
export function StagePart({ system, known }: PartProps) {
  const open = useSignal<readonly SavedSheet[]>([])
  const shown = useSignal<SavedSheet | null>(null)
  const wrong = useSignal<string | null>(null)
  const reread = async () => {
    const sheets = await get<SavedSheet[]>('/api/wet/sheets')
    open.value = sheets
    const same = sheets.find(({ id }) => id === shown.value?.id)
    if (same) shown.value = same
  }
  useEffect(() => {
    const again = () => void reread().catch(() => {})
    again()
    const timer = setInterval(again, rereadMs)
    return () => clearInterval(timer)
  }, [])
  const tell = async (work: () => Promise<void>) => {
    try {
      await work()
      wrong.value = null
    } catch (error) {
      wrong.value = error instanceof Error ? error.message : String(error)
    }
  }
  const enter = (entry: object) =>
    tell(async () => {
      const { id } = shown.value!
      shown.value = await post<SavedSheet>(`/api/wet/sheets/${id}/entry`, { by: person.value, ...entry })
    })
  const titleOf = (stage: string) => known.stages.find(({ name }) => name === stage)!.title
  return (
    <section class="panel stack">
      <h2>Fuelling checks</h2>
      <p class="note is-undecided">
        No ignition source, extinguisher at hand, aircraft and can bonded, gloves and eye protection. The kit
        or airframe maker’s instructions come first.
      </p>
      <Field label="Who makes the entries" value={person.value} onInput={(text) => (person.value = text)} />
      {person.value.trim() === '' && (
        <p class="small soft">Every entry carries a name and the server’s time: enter yours first.</p>
      )}
      {open.value.length > 0 && (
        <ul aria-label="Open sheets">
          {open.value.map((one) => (
            <li key={one.id}>
              <button type="button" class="quiet" onClick={() => (shown.value = one)}>
                {titleOf(one.sheet.stage)}: {one.sheet.sections.join(', ')}
              </button>{' '}
              <span class="soft small">
                open since {shortTime(one.sheet.journal[0].at)}, last entry by {one.sheet.journal.at(-1)!.by}
              </span>
            </li>
          ))}
        </ul>
      )}
      <NewSheet
        system={system}
        known={known}
        onOpen={(order) =>
          tell(async () => {
            shown.value = await post<SavedSheet>('/api/wet/sheets', { ...order, by: person.value })
            await reread()
          })
        }
      />
      {wrong.value && (
        <p class="note is-undecided" role="alert">
          {wrong.value}
        </p>
      )}
      {shown.value && (
        <OneSheet
          key={shown.value.id}
          system={system}
          known={known}
          saved={shown.value}
          enter={enter}
          onAside={() =>
            tell(async () => {
              open.value = await post<SavedSheet[]>(`/api/wet/sheets/${shown.value!.id}/put-aside`, {})
              shown.value = null
            })
          }
        />
      )}
    </section>
  )
}

function NewSheet(props: {
  readonly system: System
  readonly known: Known
  readonly onOpen: (order: object) => void
}) {
  const stage = useSignal<string>(props.known.stages[0].name)
  const sections = useSignal<readonly string[]>([])
  return (
    <details class="stack">
      <summary>Open a sheet</summary>
      <Choice
        label="Stage"
        value={stage.value}
        options={props.known.stages.map(({ name, title }, i) => [name, `${i + 1}. ${title}`])}
        onPick={(name) => (stage.value = name)}
      />
      <fieldset class="row">
        <legend>Fuel stands in</legend>
        {props.system.sections
          .filter(({ kind }) => kind !== 'rig')
          .map(({ id }) => (
            <label key={id} class="check">
              <input
                type="checkbox"
                checked={sections.value.includes(id)}
                onChange={(event) => {
                  const rest = sections.value.filter((one) => one !== id)
                  sections.value = event.currentTarget.checked ? [...rest, id] : rest
                }}
              />
              {id}
            </label>
          ))}
      </fieldset>
      <button
        type="button"
        disabled={!mayOperate.value || person.value.trim() === '' || sections.value.length === 0}
        onClick={() => props.onOpen({ stage: stage.value, sections: sections.value })}
      >
        Open the sheet
      </button>
    </details>
  )
}

function OneSheet(props: {
  readonly system: System
  readonly known: Known
  readonly saved: SavedSheet
  readonly enter: (entry: object) => void
  readonly onAside: () => void
}) {
  const { system, known, enter } = props
  const { id, sheet } = props.saved
  const photos = useSignal<readonly Photo[]>([])
  const found = useSignal<readonly WetResult[]>([])
  const form = useSignal({
    fuel: sheet.fuel ?? 'avgas',
    temperature: sheet.temperature ?? '',
    'hold-record': sheet['hold-record'] ?? '',
  })
  const set = (key: keyof typeof form.value) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const stage = known.stages.find(({ name }) => name === sheet.stage)!
  const earlier = known.stages.slice(
    0,
    sheet.stage === 'defuel' ? 0 : known.stages.findIndex(({ name }) => name === sheet.stage),
  )
  const last = sheet.journal.at(-1)!
  const off = !mayOperate.value || person.value.trim() === ''
  return (
    <article class="stack" aria-label={stage.title}>
      <h3>
        {stage.title}: {sheet.sections.join(', ')}
      </h3>
      <p class="small soft">
        Saved on the bench computer. Opened {shortTime(sheet.journal[0].at)} by {sheet.journal[0].by}; last
        entry {shortTime(last.at)}: {last.by} {last.did}.
      </p>
      {last.by !== person.value && !off && (
        <button type="button" onClick={() => enter({ kind: 'take-over' })}>
          Take over from {last.by}
        </button>
      )}
      <Steps
        stage={stage}
        earlier={earlier}
        omitted={sheet.omitted}
        done={sheet.done}
        off={off}
        enter={enter}
      />
      {stage.looks && (
        <>
          <h4>Conditions</h4>
          <div class="filters wet-fields">
            <Choice
              label="Fuel"
              value={form.value.fuel}
              options={['avgas', 'mogas', 'jet-a'].map((one) => [one, one] as const)}
              onPick={set('fuel')}
            />
            <Field
              label="Its temperature, such as 15 degC"
              value={form.value.temperature}
              onInput={set('temperature')}
            />
            {sheet.stage === 'pump-on' && (
              <Field
                label="Record of the liquid hold"
                value={form.value['hold-record']}
                onInput={set('hold-record')}
              />
            )}
          </div>
          <button
            type="button"
            disabled={off || form.value.temperature === ''}
            onClick={() => enter({ kind: 'set', ...form.value })}
          >
            Save the conditions
          </button>
        </>
      )}
      <p>
        {sheet.began === null ? 'Not begun.' : `Began ${shortTime(sheet.began)}.`}{' '}
        {stage.looks &&
          `The last look counts from ${duration(stage.soakS)} after it on. ${stage.proves ? 'Dry then is proof, of its own kind.' : 'Dry then is permission to go on, not yet proof.'}`}
      </p>
      {sheet.looks.length === 0 && (
        <button type="button" disabled={off} onClick={() => enter({ kind: 'begin' })}>
          {stage.looks ? 'Filled, opened or running: begin now' : 'Begin now'}
        </button>
      )}
      {stage.looks && <Looks system={system} known={known} sheet={sheet} off={off} enter={enter} />}
      <PhotoField photos={photos} />
      <Judge<WetResult>
        path={`/api/wet/sheets/${id}/judge`}
        found={found}
        sheet={() => sheet}
        photos={photos.value}
      />
      <details>
        <summary>All entries</summary>
        <ul class="small">
          {sheet.journal.map(({ at, by, did }) => (
            <li key={at + did}>
              {shortTime(at)}: {by} {did}
            </li>
          ))}
        </ul>
        <button type="button" class="quiet" disabled={off} onClick={props.onAside}>
          Put this sheet aside unsigned
        </button>
      </details>
    </article>
  )
}
