import { t } from '#analysis/reasons/language.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { MarkPad } from '../marks/mark-pad.tsx'
import { isSuction } from '../suction.ts'
import { AirCharts } from './air-charts.tsx'
import { DecisionPanel } from './decision-panel.tsx'
import { LostQuestion } from './lost-question.tsx'
import { PressureChart } from './pressure-chart.tsx'
import { PressureFigure } from './pressure-figure.tsx'
import type { Running } from './running.ts'
import { StageControls } from './stage-controls.tsx'
import { StageRail } from './stage-rail.tsx'
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
    <div class="hold-view">
      {hold.lost && <LostQuestion lost={hold.lost} />}
      <header class="hold-head">
        <h1>{hold.hold}</h1>
        <StageRail hold={hold} state={state} suction={isSuction(spec)} />
      </header>
      <div class="column">
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
      <div class="column">
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
