import { useSignal } from '@preact/signals'
import type { WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import type { System } from '#analysis/model/system.ts'
import { useAnswer } from '../parts/use-answer.ts'
import { digits } from '../quantity.ts'
import { actions } from '../words.ts'
import { Choice, Field, Judge, localMoment, stated, TimeField } from './judge.tsx'

interface Range {
  readonly lowNm: number
  readonly highNm: number
  readonly source: string
}

/** One line of the work sheet; it stays stale in the ledger until it is held again. */
export function TorquePart({ system }: { system: System }) {
  const form = useSignal({
    fitting: system.fittings[0]?.id ?? '',
    action: 'retighten',
    torque: '',
    range: '',
    source: '',
    tool: '',
    calibrated: '',
    due: '',
    by: '',
    at: localMoment(new Date()),
  })
  const stripe = useSignal(false)
  const found = useSignal<readonly WorkResult[]>([])
  const is = form.value
  const set = (key: keyof typeof is) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const known = useAnswer<{ ranges: { id: string; range: Range | null }[] }>('/api/wet').value.value
  const range = known?.ranges.find(({ id }) => id === is.fitting)?.range ?? null
  const line = () =>
    stated({
      fitting: is.fitting,
      action: is.action,
      torque: is.torque,
      range: is.range,
      'range-source': is.source,
      tool: is.tool,
      calibrated: is.calibrated,
      due: is.due,
      by: is.by,
      at: is.at === '' ? '' : new Date(is.at).toISOString(),
      stripe: stripe.value,
    })
  return (
    <section class="panel stack">
      <h2>Torque and work</h2>
      <p class="note is-undecided">Vent first: never tighten a fitting under pressure.</p>
      <div class="filters wet-fields">
        <Choice
          label="Fitting"
          value={is.fitting}
          options={system.fittings.map(({ id, name }) => [id, `${id} ${name}`] as const)}
          onPick={set('fitting')}
        />
        <Choice
          label="Work"
          value={is.action}
          options={actions.map((one) => [one, one] as const)}
          onPick={set('action')}
        />
        <Field label="Torque, such as 12.6 N·m ± 4 %" value={is.torque} onInput={set('torque')} />
        <Field label="Maker’s range, if other" value={is.range} onInput={set('range')} />
        <Field label="Where that range stands" value={is.source} onInput={set('source')} />
        <Field label="Torque wrench" value={is.tool} onInput={set('tool')} />
        <TimeField label="Calibrated on" type="date" value={is.calibrated} onInput={set('calibrated')} />
        <TimeField label="Next due" type="date" value={is.due} onInput={set('due')} />
        <Field label="Done by" value={is.by} onInput={set('by')} />
        <TimeField label="When" type="datetime-local" value={is.at} onInput={set('at')} />
      </div>
      <p>
        {range
          ? `${is.fitting}: ${digits(range.lowNm, 1)} to ${digits(range.highNm, 1)} N·m (${range.source}).`
          : `${is.fitting}: no published range; enter the maker’s.`}
      </p>
      <label class="check">
        <input
          type="checkbox"
          checked={stripe.value}
          onChange={(event) => (stripe.value = event.currentTarget.checked)}
        />
        A stripe runs across nut and body
      </label>
      <Judge<WorkResult> path="/api/torque" found={found} sheet={() => ({ work: [line()] })} />
    </section>
  )
}
