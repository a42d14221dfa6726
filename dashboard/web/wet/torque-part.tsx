import { useSignal } from '@preact/signals'
import type { WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import { Judge } from './judge.tsx'
import type { PartProps } from './looks.tsx'
import { blankForm, type FormValues, SheetRows, sheetOf } from './sheet-form.tsx'

/** Lines of the work sheet; each fitting stays stale in the ledger until it is held again. */
export function TorquePart({ system, known }: PartProps) {
  const lines = useSignal<readonly FormValues[]>([blankForm(known.forms.work, system)])
  const found = useSignal<readonly WorkResult[]>([])
  const fittings = [...new Set(lines.value.map(({ fitting }) => fitting))]
  return (
    <section class="panel stack">
      <h2>Torque and work</h2>
      <p class="note is-undecided">Vent first: never tighten a fitting under pressure.</p>
      <SheetRows
        what="Line"
        fields={known.forms.work}
        system={system}
        rows={lines.value}
        onRows={(rows) => (lines.value = rows)}
      />
      {fittings.map((id) => (
        <p key={id}>
          {id}: {known.ranges.find((one) => one.id === id)?.words ?? 'no published range'}. The maker’s range
          comes first.
        </p>
      ))}
      <Judge<WorkResult>
        path="/api/torque"
        found={found}
        sheet={() => ({ work: lines.value.map((values) => sheetOf(known.forms.work, values)) })}
      />
    </section>
  )
}
