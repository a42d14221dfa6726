import { useSignal } from '@preact/signals'
import type { WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import { workFields } from '#analysis/fuel-work/sheet-fields.ts'
import type { System } from '#analysis/model/system.ts'
import { useAnswer } from '../parts/use-answer.ts'
import { Judge } from './judge.tsx'
import { blankForm, type FormValues, SheetRows, sheetOf } from './sheet-form.tsx'

/** Lines of the work sheet; each fitting stays stale in the ledger until it is held again. */
export function TorquePart({ system }: { system: System }) {
  const lines = useSignal<readonly FormValues[]>([blankForm(workFields, system)])
  const found = useSignal<readonly WorkResult[]>([])
  const known = useAnswer<{ ranges: { id: string; words: string | null }[] }>('/api/wet').value.value
  const fittings = [...new Set(lines.value.map(({ fitting }) => fitting))]
  return (
    <section class="panel stack">
      <h2>Torque and work</h2>
      <p class="note is-undecided">Vent first: never tighten a fitting under pressure.</p>
      <SheetRows
        what="Line"
        fields={workFields}
        system={system}
        rows={lines.value}
        onRows={(rows) => (lines.value = rows)}
      />
      {fittings.map((id) => (
        <p key={id}>
          {id}: {known?.ranges.find((one) => one.id === id)?.words ?? 'no published range'}. The maker’s range
          comes first.
        </p>
      ))}
      <Judge<WorkResult>
        path="/api/torque"
        found={found}
        sheet={() => ({ work: lines.value.map((values) => sheetOf(workFields, values)) })}
      />
    </section>
  )
}
