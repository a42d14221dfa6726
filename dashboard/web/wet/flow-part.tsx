import { useSignal } from '@preact/signals'
import type { FlowResult } from '#analysis/fuel-work/flow-result.ts'
import { flowFields, flowOmittedFields, flowRunFields } from '#analysis/fuel-work/sheet-fields.ts'
import type { System } from '#analysis/model/system.ts'
import { digits } from '../quantity.ts'
import { Judge } from './judge.tsx'
import { blankForm, type FormValues, SheetForm, SheetRows, sheetOf } from './sheet-form.tsx'

/** Timed deliveries against what the engine takes at take-off: each pump alone, from each tank alone. */
export function FlowPart({ system }: { system: System }) {
  const form = useSignal(blankForm(flowFields, system))
  const runs = useSignal<readonly FormValues[]>([blankForm(flowRunFields, system)])
  const omitted = useSignal<readonly FormValues[]>([])
  const found = useSignal<readonly FlowResult[]>([])
  const sheet = () => ({
    ...sheetOf(flowFields, form.value),
    runs: runs.value.map((values) => sheetOf(flowRunFields, values)),
    omitted: omitted.value.map((values) => sheetOf(flowOmittedFields, values)),
  })
  return (
    <section class="panel stack">
      <h2>Fuel flow check</h2>
      <p>
        Nose up as in the steepest climb and a margin, the tank at its unusable fuel and what the run needs,
        the fuel running out at the height of the engine inlet. By gravity 150 % of the take-off flow is
        needed, by pump 125 % (14 CFR 23.955): each pump alone from each tank alone, and once every pump
        together. Write quantities with their unit and tolerance, such as “8.10 kg ± 0.02 kg”.
      </p>
      <SheetForm
        fields={flowFields}
        system={system}
        values={form.value}
        onValues={(values) => (form.value = values)}
      />
      <SheetRows
        what="Run"
        fields={flowRunFields}
        system={system}
        rows={runs.value}
        onRows={(rows) => (runs.value = rows)}
      />
      <SheetRows
        what="Run left out"
        fields={flowOmittedFields}
        system={system}
        rows={omitted.value}
        onRows={(rows) => (omitted.value = rows)}
      />
      <Judge<FlowResult> path="/api/flow" found={found} sheet={sheet}>
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
