import { type Signal, useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { inDigits, t } from '#analysis/reasons/language.ts'
import type { SavedSheet } from '#dashboard/api.ts'
import { base64Of, post } from '../api-client.ts'
import { mayOperate, tickMs } from '../live/bench.ts'
import { Trouble } from '../parts/facts.tsx'
import { asOptions, Button, Field, FileField, partOf, Ticks } from '../parts/fields.tsx'
import { useAnswer, useTrouble } from '../parts/use-answer.ts'
import { moment } from '../quantity.ts'
import { sheetWords } from '../words.ts'
import { type Attached, Judge, type OnSheet, type PartProps, person } from './judge.tsx'
import { stated } from './sheet-form.tsx'
import { Looks, Steps } from './stage-entries.tsx'

const fuelWords = ['avgas', 'mogas', 'jet-a']

/** Polling interval of open sheets: another device may have made an entry. */
const rereadMs = 5000

/** The first and the last entry; opening a sheet is its first. */
const endsOf = ({ journal }: SavedSheet['sheet']) => ({ first: journal[0]!, last: journal.at(-1)! })

/** The fuelling checks: one saved sheet a stage, open on any device. */
export function StagePart({ system, known }: PartProps) {
  const changes = useSignal(0)
  const sinceS = `${changes.value} ${Math.floor(tickMs.value / rereadMs)}`
  const open = useAnswer<readonly SavedSheet[]>('/api/wet/sheets', sinceS).value.value ?? []
  const shown = useSignal<SavedSheet | null>(null)
  const { wrong, tell } = useTrouble()
  useEffect(() => {
    shown.value = open.find(({ id }) => id === shown.peek()?.id) ?? shown.peek()
  }, [open])
  const show = (sheet: SavedSheet | null): void => {
    shown.value = sheet
    changes.value++
  }
  const enter = (entry: object) =>
    tell(async () => {
      const { id } = shown.value!
      show(await post<SavedSheet>(`/api/wet/sheets/${id}/entry`, { by: person.value, ...entry }))
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
      {open.length > 0 && (
        <ul aria-label="Open sheets">
          {open.map((one) => (
            <li key={one.id}>
              <Button class="quiet" onClick={() => (shown.value = one)}>
                {titleOf(one.sheet.stage)}: {one.sheet.sections.join(', ')}
              </Button>{' '}
              <span class="soft small">
                open since {moment(endsOf(one.sheet).first.at)}, last entry by {endsOf(one.sheet).last.by}
              </span>
            </li>
          ))}
        </ul>
      )}
      <NewSheet
        system={system}
        known={known}
        onOpen={(order) =>
          tell(async () => show(await post<SavedSheet>('/api/wet/sheets', { ...order, by: person.value })))
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
              await post(`/api/wet/sheets/${shown.value!.id}/put-aside`, {})
              show(null)
            })
          }
        />
      )}
    </section>
  )
}

function NewSheet({ system, known, onOpen }: PartProps & { readonly onOpen: (order: object) => void }) {
  const stage = useSignal<string>(known.stages[0]?.name ?? '')
  const sections = useSignal<readonly string[]>([])
  return (
    <details class="stack">
      <summary>Open a sheet</summary>
      <Field
        label="Stage"
        of={stage}
        options={known.stages.map(({ name, title }, i) => [name, `${i + 1}. ${title}`])}
      />
      <Ticks
        legend="Fuel is in"
        of={sections}
        options={asOptions(system.sections.filter(({ kind }) => kind !== 'rig').map(({ id }) => id))}
      />
      <Button
        disabled={!mayOperate.value || person.value.trim() === '' || sections.value.length === 0}
        onClick={() => onOpen({ stage: stage.value, sections: sections.value })}
      >
        Open the sheet
      </Button>
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
  const { first, last } = endsOf(sheet)
  if (!stage) return null
  return (
    <article class="stack" aria-label={stage.title}>
      <h3>
        {stage.title}: {sheet.sections.join(', ')}
      </h3>
      <p class="small soft">
        Saved on the bench computer. Opened {moment(first.at)} by {first.by}; last entry {moment(last.at)}:{' '}
        {last.by} {last.did}.
      </p>
      {last.by !== person.value && !off && (
        <Button onClick={() => enter({ kind: 'take-over' })}>Take over from {last.by}</Button>
      )}
      <Steps {...props} stage={stage} earlier={sheet.stage === 'defuel' ? [] : known.stages.slice(0, at)} />
      {stage.looks && (
        <>
          <h4>Conditions</h4>
          <div class="cells low">
            <Field label="Fuel" of={partOf(form, 'fuel')} options={sheetWords(fuelWords)} />
            <Field label="Its temperature, such as 15 degC" of={partOf(form, 'temperature')} />
            {sheet.stage === 'pump-on' && (
              <Field label="Record of the liquid hold" of={partOf(form, 'hold-record')} />
            )}
          </div>
          <Button
            disabled={off || form.value.temperature === ''}
            onClick={() => enter({ kind: 'set', ...stated(form.value) })}
          >
            Save the conditions
          </Button>
        </>
      )}
      <p>
        {sheet.began === null ? t`Not begun.` : t`Began ${moment(sheet.began)}.`}{' '}
        {stage.looks &&
          t`The last look counts from ${duration(stage.soakS)} after that. ${stage.proves ? t`Dry then is proof, of its own kind.` : t`Dry then is permission to go on, not yet proof.`}`}
      </p>
      {sheet.looks.length === 0 && (
        <Button disabled={off} onClick={() => enter({ kind: 'begin' })}>
          {stage.looks ? t`Filled, opened or running: begin now` : t`Begin now`}
        </Button>
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
        <Button class="quiet" disabled={off} onClick={props.onAside}>
          Put this sheet aside unsigned
        </Button>
      </details>
    </article>
  )
}

/** Server limit for all photos of one sheet. */
const atMostBytes = 12 * 1024 * 1024
const megabytes = (bytes: number): string => inDigits(bytes / 1024 ** 2, 1)

/** Photos of a stage. A choice over the limit is refused before it is sent. */
function PhotoField({ photos }: { readonly photos: Signal<readonly Attached[]> }) {
  const said = useSignal<string | null>(null)
  const take = async (files: readonly File[]) => {
    const bytes = files.reduce((sum, file) => sum + file.size, 0)
    const tooMuch = bytes > atMostBytes
    photos.value = tooMuch
      ? []
      : await Promise.all(files.map(async (file) => ({ name: file.name, base64: await base64Of(file) })))
    said.value = tooMuch
      ? t`${megabytes(bytes)} MB is too much: choose fewer or smaller photos, at most 12 MB together. None is attached.`
      : files.length === 0
        ? null
        : t`${files.length} attached, ${megabytes(bytes)} MB.`
  }
  return (
    <>
      <FileField label="Photos, together 12 MB at most" accept="image/*" multiple onPick={take} />
      {said.value && (
        <p class={photos.value.length === 0 ? 'note is-undecided' : 'small soft'} role="status">
          {said.value}
        </p>
      )}
    </>
  )
}
