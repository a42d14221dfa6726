import type { RunningHold } from '#dashboard/api.ts'
import { bench, isLive } from '../live/bench.ts'
import { StateMark } from '../parts/state-mark.tsx'
import { pressureDifference, span } from '../quantity.ts'
import { verdictWords } from '../words.ts'
import { DecisionPicture } from './decision-picture.tsx'

function headline(hold: RunningHold): { words: string; state: RunningHold['verdict'] } {
  const decided = hold.verdict !== null && hold.verdict !== 'undecided'
  if (decided) return { words: verdictWords[hold.verdict!].word, state: hold.verdict }
  if (hold.stage === 'vent') return { words: 'Venting: keep the gauge connected', state: null }
  if (hold.decidesInS !== null) {
    return hold.decidesInS < 5
      ? { words: 'Decides any moment', state: null }
      : { words: `Decides in about ${span(hold.decidesInS)}`, state: null }
  }
  return { words: hold.looks.length === 0 ? 'Gathering the first readings' : 'Cannot tell yet', state: null }
}

/** What is known of the leak, how sure it is, and when it will be decided. */
export function DecisionPanel({ hold, lengthS }: { hold: RunningHold; lengthS: number | null }) {
  const { words, state } = headline(hold)
  const silent = bench.value?.alarms.some((one) => one.code.startsWith('logger')) ?? false
  const old = !isLive.value || silent
  const last = hold.looks.at(-1)
  return (
    <section class={`panel decision-panel ${state ? `is-${state} is-decided` : ''}`} aria-label="Decision">
      <p class="headline" role="status">
        {state && <StateMark state={state} size={2} />}
        {old ? `Last known: ${words.charAt(0).toLowerCase()}${words.slice(1)}` : words}
      </p>
      <DecisionPicture
        looks={hold.looks}
        allowanceDropPa={hold.allowanceDropPa}
        lengthS={lengthS}
        verdict={hold.verdict}
        decidesInS={hold.decidesInS}
      />
      {last && (
        <dl class="estimate-line">
          <div>
            <dt>Leak</dt>
            <dd>{pressureDifference(last.dropPa.value)}</dd>
          </div>
          <div>
            <dt>95 % interval</dt>
            <dd>
              {pressureDifference(last.dropPa.low).replace(/ [^ ]+$/, '')} to{' '}
              {pressureDifference(last.dropPa.high)}
            </dd>
          </div>
          <div>
            <dt>Allowed</dt>
            <dd>{pressureDifference(hold.allowanceDropPa)}</dd>
          </div>
        </dl>
      )}
      {hold.reasons.length > 0 && (
        <ul class="reasons">
          {hold.reasons.map((one) => (
            <li key={one.code}>{one.message}</li>
          ))}
        </ul>
      )}
    </section>
  )
}
