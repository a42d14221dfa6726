import type { WordedReason } from '#analysis/model/hold-result.ts'
import { inDigits, t } from '#analysis/reasons/language.ts'
import type { RecordMarks } from '#dashboard/api.ts'
import { Facts, Reasons } from '../parts/facts.tsx'
import { clockTime, zoneAt } from '../quantity.ts'
import { markWord, recordKindWords } from '../words.ts'

type Entries = Readonly<Record<string, unknown>>

/** Entries that the head of the page shows already, or that no reader needs. */
const told = ['stillhold', 'verdict', 'reasons', 'kind']

const isEntries = (value: unknown): value is Entries =>
  typeof value === 'object' && value !== null && !Array.isArray(value)
const isEmpty = (value: unknown): boolean =>
  value === null || value === '' || (Array.isArray(value) && value.length === 0)

/** `usable_low_L` → `usable low, L`. */
function keyWords(key: string): string {
  const parts = key.split('_')
  const unit =
    parts.length > 1 && /^(L|mL|Pa|K|C|Nm|s|kg|ns|percent|mm|m)$/.test(parts.at(-1)!) ? parts.pop() : null
  return parts.join(' ') + (unit ? `, ${unit === 'percent' ? '%' : unit === 'Nm' ? 'N·m' : unit}` : '')
}

const plain = (value: unknown): string =>
  value === true
    ? t`yes`
    : value === false
      ? t`no`
      : typeof value === 'number'
        ? inDigits(Number(value.toPrecision(4)))
        : String(value)

function Value({ of }: { of: unknown }) {
  if (isEntries(of)) return <Entered of={of} />
  if (!Array.isArray(of)) return <>{plain(of)}</>
  if (!of.some((one) => typeof one === 'object')) return <>{of.map(plain).join(', ')}</>
  return (
    <ol class="evidence-list stack tight">
      {of.map((one, i) => (
        <li key={i}>
          <Value of={one} />
        </li>
      ))}
    </ol>
  )
}

const Entered = ({ of }: { of: Entries }) => (
  <Facts
    of={Object.entries(of)
      .filter(([, one]) => !isEmpty(one))
      .map(([key, one]) => [keyWords(key), <Value key={key} of={one} />])}
  />
)

/** Sealed evidence of any record but a hold: its reasons, then all entries. */
export function Evidence({ kind, value }: { kind: string; value: Entries }) {
  const reasons = Array.isArray(value.reasons) ? (value.reasons as readonly WordedReason[]) : []
  return (
    <section class="panel stack" aria-label="Evidence">
      <h2>{recordKindWords[kind] ?? kind}</h2>
      {reasons.length > 0 && <Reasons of={reasons} withCode />}
      <div data-from="file">
        <Entered of={Object.fromEntries(Object.entries(value).filter(([key]) => !told.includes(key)))} />
      </div>
    </section>
  )
}

/** Most marks that a list shows unfolded. */
const SHOWN = 12

function What({ id, kind, text }: RecordMarks['marks'][number]) {
  const isNote = kind === 'note'
  return (
    <span>
      {[isNote ? '' : markWord(kind), id].filter(Boolean).map((word) => `${word} `)}
      <span data-from="recording">{isNote ? text : markWord(text)}</span>
    </span>
  )
}

interface Props {
  readonly of: RecordMarks
  readonly photos: readonly { readonly name: string; readonly url: string }[]
}

/** All marks of a recording, in the local time of this device, and the checks before it. */
export function RecordMarksPanel({ of, photos }: Props) {
  const { marks, stateSheet } = of
  const zone = marks[0] ? zoneAt(marks[0].time) : ''
  const list = (some: RecordMarks['marks']) => (
    <ul class="mark-list stack tight">
      {some.map((one) => {
        const photo = photos.find(({ name }) => name === one.photo)
        return (
          <li key={`${one.timeS} ${one.kind} ${one.id} ${one.text}`} class={`line of-${one.kind}`}>
            <span class="number soft">{clockTime(one.time)}</span> <What {...one} />
            {photo && (
              <a href={photo.url}>
                <img src={photo.url} alt={`${one.id ?? ''} ${one.text}`} loading="lazy" />
              </a>
            )}
          </li>
        )
      })}
    </ul>
  )
  return (
    <section class="panel stack tight" aria-label="Marks">
      <h2>Marks {zone && <span class="unit">local time, {zone}</span>}</h2>
      {marks.length === 0 ? <p class="soft">No marks.</p> : list(marks.slice(0, SHOWN))}
      {marks.length > SHOWN && (
        <details>
          <summary>{marks.length - SHOWN} more marks</summary>
          {list(marks.slice(SHOWN))}
        </details>
      )}
      {stateSheet.length > 0 && (
        <>
          <h3>State sheet, checked before the pump-up</h3>
          <ul class="checked-list">
            {stateSheet.map((one) => (
              <li key={one}>{one}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  )
}
