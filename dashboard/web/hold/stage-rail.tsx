import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LiveState, RunningHold } from '#dashboard/api.ts'
import { clock } from '../quantity.ts'
import { drawDownWords, stageOrder, stageWords } from '../words.ts'

/** The four stages in order, the current one, and the time left. */
export function StageRail(props: {
  readonly hold: RunningHold
  readonly state: LiveState
  readonly suction: boolean
}) {
  const { hold, state } = props
  const words = props.suction ? { ...stageWords, 'pump-up': drawDownWords } : stageWords
  const here = stageOrder.indexOf(hold.stage as (typeof stageOrder)[number])
  const inStageS = Math.max(0, (state.nowS ?? hold.stageStartedS) - hold.stageStartedS)
  const leftS = hold.stageLengthS === null ? null : hold.stageLengthS - inStageS
  const stage = here >= 0 ? stageOrder[here] : null
  return (
    <section class="rail" aria-label="Stages">
      <ol>
        {stageOrder.map((one, i) => (
          <li
            key={one}
            class={i < here ? 'is-done' : i === here ? 'is-now' : ''}
            aria-current={i === here ? 'step' : undefined}
          >
            <span class="rail-word">
              {words[one].title}
              {i < here && <span class="unseen"> done</span>}
            </span>
            {i === here && hold.stageLengthS !== null && (
              <progress
                max={hold.stageLengthS}
                value={Math.min(inStageS, hold.stageLengthS)}
                aria-label={t`${words[one].title} progress`}
              />
            )}
          </li>
        ))}
      </ol>
      <p class="rail-time">
        <span class="rail-now" role="status">
          {stage && words[stage].now}
        </span>
        {leftS === null ? (
          <span>
            <strong>{clock(inStageS)}</strong> so far
          </span>
        ) : leftS >= 0 ? (
          <span>
            <strong>{clock(leftS)}</strong> left
          </span>
        ) : (
          <span>
            <strong>{duration(-leftS)}</strong> over time
          </span>
        )}
      </p>
    </section>
  )
}
