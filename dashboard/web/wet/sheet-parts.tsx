import type { FlowResult } from '#analysis/fuel-work/check-flow.ts'
import type { WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import { t } from '#analysis/reasons/language.ts'
import { digits } from '../quantity.ts'
import type { PartProps } from './entries.ts'
import { Judge } from './judge.tsx'
import { SheetForm, SheetRows, statedIn, statedInEach, useSheet } from './sheet-form.tsx'

/** Timed deliveries against the engine's take-off demand: each pump alone, from each tank alone. */
export function FlowPart({ system, known: { forms } }: PartProps) {
  const head = useSheet(forms.flow, system)
  const runs = useSheet(forms.flowRun, system)
  const omitted = useSheet(forms.flowOmitted, system, 0)
  return (
    <section class="panel stack">
      <h2>Fuel flow check</h2>
      <p>
        Nose up as in the steepest climb and a margin, the tank at its unusable fuel and what the run needs,
        the fuel running out at the height of the engine inlet. By gravity 150 % of the take-off flow is
        needed, by pump 125 % (14 CFR 23.955): each pump alone from each tank alone, and once every pump
        together. Write quantities with their unit and tolerance, such as “8.10 kg ± 0.02 kg”.
      </p>
      <SheetForm of={head} />
      <SheetRows what="Run" of={runs} />
      <SheetRows what="Run left out" of={omitted} />
      <Judge<FlowResult>
        path="/api/flow"
        sheet={() => ({ ...statedIn(head), runs: statedInEach(runs), omitted: statedInEach(omitted) })}
      >
        {(result) =>
          result.runs.map((run) => (
            <p key={run.run}>
              {run.run}: {digits(run.share_percent, 0)} % of take-off flow, {run.needed_percent} % needed.
            </p>
          ))
        }
      </Judge>
    </section>
  )
}

/** Lines of the work sheet; each fitting is stale in the ledger until its next hold. */
export function TorquePart({ system, known }: PartProps) {
  const lines = useSheet(known.forms.work, system)
  const fittings = [...new Set(lines.rows.value.map(({ fitting }) => fitting))]
  return (
    <section class="panel stack">
      <h2>Torque and work</h2>
      <p class="note is-undecided">Vent first: never tighten a fitting under pressure.</p>
      <SheetRows what="Line" of={lines} />
      {fittings.map((id) => (
        <p key={id}>
          {id}: {known.ranges.find((one) => one.id === id)?.words ?? t`no published range`}. The maker’s range
          comes first.
        </p>
      ))}
      <Judge<WorkResult> path="/api/torque" sheet={() => ({ work: statedInEach(lines) })} />
    </section>
  )
}
