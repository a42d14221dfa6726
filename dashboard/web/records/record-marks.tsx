import type { RecordMarks } from '#dashboard/api.ts'
import { clockTime, zoneAt } from '../quantity.ts'
import { markWord } from '../words.ts'

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
    <ul class="mark-list">
      {some.map((one) => {
        const photo = photos.find(({ name }) => name === one.photo)
        return (
          <li key={`${one.timeS} ${one.kind} ${one.id} ${one.text}`} class={`of-${one.kind}`}>
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
