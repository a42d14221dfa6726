import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { SavedSheet } from '#dashboard/api.ts'
import { get, post } from '../api-client.ts'
import { mayOperate } from '../live/bench.ts'
import { Choice, Field, partOf, Ticks } from '../parts/fields.tsx'
import { moment } from '../quantity.ts'
import { sheetWords } from '../words.ts'
import { type OnSheet, type PartProps, person } from './entries.ts'
import { type Attached, Judge, Trouble, useTrouble } from './judge.tsx'
import { Looks } from './looks.tsx'
import { PhotoField } from './photo-field.tsx'
import { stated } from './sheet-form.tsx'
import { Steps } from './steps.tsx'

const fuelWords = ['avgas', 'mogas', 'jet-a']

/** Polling interval of open sheets: another device may have made an entry. */
const rereadMs = 5000

/** The fuelling checks: one saved sheet a stage, open on any device. */
export function StagePart({ system, known }: PartProps) {
  const open = useSignal<readonly SavedSheet[]>([])
  const shown = useSignal<SavedSheet | null>(null)
  const { wrong, tell } = useTrouble()
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
      <Field label="Who makes the entries" of={person} />
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
                open since {moment(one.sheet.journal[0].at)}, last entry by {one.sheet.journal.at(-1)!.by}
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
      <Trouble of={wrong} />
      {shown.value && (
        <OneSheet
          key={shown.value.id}
          system={system}
          known={known}
          id={shown.value.id}
          sheet={shown.value.sheet}
          off={!mayOperate.value || person.value.trim() === ''}
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

function NewSheet({ system, known, onOpen }: PartProps & { readonly onOpen: (order: object) => void }) {
  const stage = useSignal<string>(known.stages[0].name)
  const sections = useSignal<readonly string[]>([])
  return (
    <details class="stack">
      <summary>Open a sheet</summary>
      <Choice
        label="Stage"
        of={stage}
        options={known.stages.map(({ name, title }, i) => [name, `${i + 1}. ${title}`])}
      />
      <Ticks
        legend="Fuel is in"
        class="row"
        of={sections}
        options={system.sections
          .filter(({ kind }) => kind !== 'rig')
          .map(({ id }) => ({ value: id, words: id }))}
      />
      <button
        type="button"
        disabled={!mayOperate.value || person.value.trim() === '' || sections.value.length === 0}
        onClick={() => onOpen({ stage: stage.value, sections: sections.value })}
      >
        Open the sheet
      </button>
    </details>
  )
}

function OneSheet(props: PartProps & OnSheet & { readonly id: string; readonly onAside: () => void }) {
  const { known, id, sheet, off, enter } = props
  const photos = useSignal<readonly Attached[]>([])
  const form = useSignal({
    fuel: sheet.fuel ?? 'avgas',
    temperature: sheet.temperature ?? '',
    'hold-record': sheet['hold-record'] ?? '',
  })
  const at = known.stages.findIndex(({ name }) => name === sheet.stage)
  const stage = known.stages[at]
  const last = sheet.journal.at(-1)!
  return (
    <article class="stack" aria-label={stage.title}>
      <h3>
        {stage.title}: {sheet.sections.join(', ')}
      </h3>
      <p class="small soft">
        Saved on the bench computer. Opened {moment(sheet.journal[0].at)} by {sheet.journal[0].by}; last entry{' '}
        {moment(last.at)}: {last.by} {last.did}.
      </p>
      {last.by !== person.value && !off && (
        <button type="button" onClick={() => enter({ kind: 'take-over' })}>
          Take over from {last.by}
        </button>
      )}
      <Steps {...props} stage={stage} earlier={sheet.stage === 'defuel' ? [] : known.stages.slice(0, at)} />
      {stage.looks && (
        <>
          <h4>Conditions</h4>
          <div class="filters wet-fields">
            <Choice label="Fuel" of={partOf(form, 'fuel')} options={sheetWords(fuelWords)} />
            <Field label="Its temperature, such as 15 degC" of={partOf(form, 'temperature')} />
            {sheet.stage === 'pump-on' && (
              <Field label="Record of the liquid hold" of={partOf(form, 'hold-record')} />
            )}
          </div>
          <button
            type="button"
            disabled={off || form.value.temperature === ''}
            onClick={() => enter({ kind: 'set', ...stated(form.value) })}
          >
            Save the conditions
          </button>
        </>
      )}
      <p>
        {sheet.began === null ? t`Not begun.` : t`Began ${moment(sheet.began)}.`}{' '}
        {stage.looks &&
          t`The last look counts from ${duration(stage.soakS)} after that. ${stage.proves ? t`Dry then is proof, of its own kind.` : t`Dry then is permission to go on, not yet proof.`}`}
      </p>
      {sheet.looks.length === 0 && (
        <button type="button" disabled={off} onClick={() => enter({ kind: 'begin' })}>
          {stage.looks ? t`Filled, opened or running: begin now` : t`Begin now`}
        </button>
      )}
      {stage.looks && <Looks {...props} />}
      <PhotoField photos={photos} />
      <Judge<WetResult> path={`/api/wet/sheets/${id}/judge`} sheet={() => sheet} photos={photos.value} />
      <details>
        <summary>All entries</summary>
        <ul class="small">
          {sheet.journal.map(({ at: when, by, did }) => (
            <li key={when + did}>
              {moment(when)}: {by} {did}
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
