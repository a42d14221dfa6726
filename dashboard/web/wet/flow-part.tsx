import { useSignal } from '@preact/signals'
import type { FlowResult } from '#analysis/fuel-work/check-flow.ts'
import { digits } from '../quantity.ts'
import { Judge } from './judge.tsx'
import type { PartProps } from './looks.tsx'
import { blankForm, type FormValues, SheetForm, SheetRows, sheetOf } from './sheet-form.tsx'

/** Timed deliveries against what the engine takes at take-off: each pump alone, from each tank alone. */
export function FlowPart({ system, known: { forms } }: PartProps) {
  const form = useSignal(blankForm(forms.flow, system))
  const runs = useSignal<readonly FormValues[]>([blankForm(forms.flowRun, system)])
  const omitted = useSignal<readonly FormValues[]>([])
  const found = useSignal<readonly FlowResult[]>([])
  const sheet = () => ({
    ...sheetOf(forms.flow, form.value),
    runs: runs.value.map((values) => sheetOf(forms.flowRun, values)),
    omitted: omitted.value.map((values) => sheetOf(forms.flowOmitted, values)),
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
        fields={forms.flow}
        system={system}
        values={form.value}
        onValues={(values) => (form.value = values)}
      />
      <SheetRows
        what="Run"
        fields={forms.flowRun}
        system={system}
        rows={runs.value}
        onRows={(rows) => (runs.value = rows)}
      />
      <SheetRows
        what="Run left out"
        fields={forms.flowOmitted}
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
