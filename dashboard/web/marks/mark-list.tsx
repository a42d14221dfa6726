import { t } from '#analysis/reasons/language.ts'
import { bench, mayOperate } from '../live/bench.ts'
import { markWords, takeBack } from './send-mark.ts'

const byHand = /^(valve|work|look|note|stroke|plug|fill)$/
const shownAtMost = 12

/** The marks of this session, newest first, each with a button that takes it back. */
export function MarkList({ id }: { readonly id?: string }) {
  const marks = (bench.value?.marks ?? [])
    .filter(
      (one) => byHand.test(one.kind) && one.text !== 'state sheet' && (id === undefined || one.id === id),
    )
    .slice(-shownAtMost)
    .reverse()
  if (marks.length === 0) return null
  return (
    <details class="mark-list">
      <summary>Marks made ({marks.length})</summary>
      <ul>
        {marks.map((one) => (
          <li key={one.ns}>
            <span>{markWords(one)}</span>
            {mayOperate.value && (
              <button
                type="button"
                aria-label={t`Take back ${markWords(one)}`}
                onClick={() => void takeBack(one)}
              >
                Take back
              </button>
            )}
          </li>
        ))}
      </ul>
    </details>
  )
}
