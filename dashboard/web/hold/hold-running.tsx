import { isSectionPressure } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LiveState, LostAnswer, PressureLost, RunningHold } from '#dashboard/api.ts'
import { bench, channelsOf, mayOperate, system, tell } from '../live/bench.ts'
import { MarkPad } from '../marks/mark-pad.tsx'
import { Button } from '../parts/fields.tsx'
import { isSuction } from '../parts/hold-limits.ts'
import { useTask } from '../parts/use-answer.ts'
import { clock, pressure, withUnit } from '../quantity.ts'
import { drawDownWords, stageOrder, stageWords } from '../words.ts'
import { DecisionPanel } from './decision-panel.tsx'
import { AirCharts, PressureChart } from './hold-charts.tsx'
import { PressureFigure } from './pressure-figure.tsx'
import type { Running } from './running.ts'
import { StageControls } from './stage-controls.tsx'
import { TypedPad } from './typed-pad.tsx'

/** A running hold on one screen. */
export function HoldRunning({ run }: { run: Running }) {
  const state = bench.value!
  const { spec } = run
  const hold = state.hold!
  const measured = [...new Set(run.pressures.map((one) => one.section))]
  const charts = run.holdStartS !== null && measured.length > 1 ? measured : [null]
  const deciding = hold.stage === 'hold' || hold.stage === 'vent' || hold.lost != null || hold.broken != null
  return (
    <div class="hold-view stack">
      {hold.lost && <LostQuestion lost={hold.lost} />}
      <header class="hold-head row">
        <h1>{hold.hold}</h1>
        <StageRail hold={hold} state={state} suction={isSuction(spec)} />
      </header>
      <div class="column stack">
        <PressureFigure of={run} />
        {hold.lost ? null : mayOperate.value ? (
          <StageControls hold={hold} suction={isSuction(spec)} />
        ) : (
          <p class="stage-controls soft">Watching only: the bench is operated elsewhere.</p>
        )}
        {spec && !hold.lost && <TypedPad spec={spec} />}
        {run.pressures.length > 0 ? (
          charts.map((of) => <PressureChart key={of} run={run} of={of} />)
        ) : (
          <p class="panel note">
            {system.value === null
              ? t`Waiting for the system file: the channels are not known yet.`
              : t`No pressure channel measures this hold: see Setup, Channels.`}
          </p>
        )}
        <AirCharts run={run} />
      </div>
      <div class="column stack">
        {deciding && (
          <DecisionPanel
            hold={hold}
            lengthS={spec?.holdS ?? hold.stageLengthS}
            sections={measured.length > 0 ? measured : (spec?.sections ?? [])}
          />
        )}
        {mayOperate.value && <MarkPad sections={spec?.sections ?? []} />}
      </div>
    </div>
  )
}

/** The four stages in order, the current one, and the time left. */
function StageRail(props: {
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
    <section class="rail row" aria-label="Stages">
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
      <p class="rail-time line">
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

const answers: readonly (readonly [LostAnswer, string])[] = [
  ['vented', t`I vented it`],
  ['let-go', t`A joint let go`],
  ['unknown', t`I do not know`],
  ['still-holding', t`It still holds: continue`],
]

/** A section that keeps this share of its pressure may continue: a hand on the hose or a gust on a tank explains the fall. */
const STILL_HELD = 0.5

/** No leak explains the fall of the pressure: there is no verdict until the operator gives the cause. */
function LostQuestion({ lost }: { lost: PressureLost }) {
  const { busy, run } = useTask()
  const now = channelsOf(lost.section, isSectionPressure)
    .map((one) => bench.value?.newest[one.id]?.reading)
    .find((reading) => reading !== undefined)
  const holds = now !== undefined && now / lost.fromPa > STILL_HELD
  const [from, to] = [lost.fromPa, lost.toPa].map((pa) => withUnit(pa, pressure(), 2))
  return (
    <section class="panel lost-question stack tight is-fail" aria-labelledby="lost-title">
      <h2 id="lost-title">Pressure lost. Was it vented, or did a joint let go?</h2>
      <p>
        {lost.section} went from {from} to {to} faster than any leak of the interval. There is no verdict
        until you answer.
      </p>
      {mayOperate.value && (
        <div class="row">
          {answers.slice(0, holds ? 4 : 3).map(([answer, words]) => (
            <Button
              key={answer}
              class="large"
              disabled={busy.value}
              onClick={() => run(() => tell('/api/hold/lost', { answer }))}
            >
              {words}
            </Button>
          ))}
        </div>
      )}
    </section>
  )
}
