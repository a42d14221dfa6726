import { benchWords } from '#analysis/reasons/bench-words.ts'
import type { LiveState } from '#dashboard/api.ts'
import type { OpenRecord } from '#dashboard/archive/record.ts'
import { mayOperate } from '../live/bench.ts'
import { BudgetBar, Reasons } from '../parts/facts.tsx'
import { StateMark } from '../parts/state-mark.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { VerdictFigures } from '../parts/verdict-figures.tsx'
import { address } from '../route.ts'
import { verdictWords } from '../words.ts'

interface Props {
  readonly last: NonNullable<LiveState['last']>
  /** A later hold has ended but is not sealed: this verdict must not be mistaken for its verdict. */
  readonly older: boolean
}

/** The verdict of the hold that was sealed last, readable from the far end of the hangar. */
export function LastVerdict({ last, older }: Props) {
  const { result, record } = last
  const opened = useAnswer<OpenRecord>(`/api/records/${encodeURIComponent(record)}`).value.value
  const { word, meaning } = verdictWords[result.verdict]
  return (
    <section
      class={`panel last-verdict ${older ? 'is-older' : `is-${result.verdict}`}`}
      aria-label="Last verdict"
    >
      <p class="verdict-word">
        <StateMark state={result.verdict} size={3} /> {word}
      </p>
      <div class="stack tight">
        {older && (
          <p class="note is-undecided">This is the hold before the last one, which is not decided yet.</p>
        )}
        <p class="verdict-of">
          <strong>{result.hold}</strong> <span class="soft">{meaning}</span>
        </p>
        <Reasons of={result.reasons} />
        {!older && <p class="soft">Bench: {benchWords(result)}.</p>}
        <VerdictFigures result={result} />
        <BudgetBar of={opened?.budget} />
        <p class="row">
          <a class="button" href={address('records', record)}>
            Open the record
          </a>
          <a class="button" href={`/api/records/${encodeURIComponent(record)}/report.pdf`}>
            Test report
          </a>
          {result.verdict !== 'pass' && mayOperate.value && (
            <a class="button main" href={address('hold', 'start', result.hold, record)}>
              Retest
            </a>
          )}
          {result.verdict === 'fail' && (
            <a class="button" href={address('system')}>
              Hunt the leak
            </a>
          )}
        </p>
      </div>
    </section>
  )
}
