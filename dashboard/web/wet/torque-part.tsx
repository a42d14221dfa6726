import { useSignal } from '@preact/signals'
import type { WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import type { System } from '#analysis/model/system.ts'
import { useAnswer } from '../parts/use-answer.ts'
import { actions } from '../words.ts'
import { Choice, Field, Judge, localMoment, numberOrNull, stated, TimeField } from './judge.tsx'

/** One line of the work sheet; it stays stale in the ledger until it is held again. */
export function TorquePart({ system }: { system: System }) {
  const form = useSignal({
    fitting: system.fittings[0]?.id ?? '',
    action: 'retighten',
    torque: '',
    threads: 'not-stated',
    range: '',
    source: '',
    turn: '',
    runOn: '',
    bolts: '',
    passes: '2',
    sequence: 'crosswise',
    sealant: '',
    cure: '',
    tool: '',
    calibrated: '',
    due: '',
    by: '',
    at: localMoment(new Date()),
  })
  const witnessMark = useSignal(false)
  const found = useSignal<readonly WorkResult[]>([])
  const is = form.value
  const set = (key: keyof typeof is) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const known = useAnswer<{ ranges: { id: string; words: string | null }[] }>('/api/wet').value.value
  const range = known?.ranges.find(({ id }) => id === is.fitting)?.words ?? null
  const kind = system.fittings.find(({ id }) => id === is.fitting)?.kind
  const line = () =>
    stated({
      fitting: is.fitting,
      action: is.action,
      torque: is.torque,
      threads: is.threads === 'not-stated' ? '' : is.threads,
      range: is.range,
      'range-source': is.source,
      turn: is.turn,
      'run-on': is.runOn,
      bolts: numberOrNull(is.bolts),
      passes: is.bolts === '' ? null : numberOrNull(is.passes),
      sequence: is.bolts === '' ? '' : is.sequence,
      sealant: is.sealant,
      cure: is.cure,
      tool: is.tool,
      calibrated: is.calibrated,
      due: is.due,
      by: is.by,
      at: is.at === '' ? '' : new Date(is.at).toISOString(),
      'witness-mark': witnessMark.value,
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
        <Field
          label="Torque as the wrench reads, such as 112 in·lb ± 4 %"
          value={is.torque}
          onInput={set('torque')}
        />
        <Choice
          label="Threads"
          value={is.threads}
          options={[
            ['not-stated', 'not stated'],
            ['lubricated', 'lubricated'],
            ['dry', 'dry'],
          ]}
          onPick={set('threads')}
        />
        <Field label="Run-on torque of a self-locking nut" value={is.runOn} onInput={set('runOn')} />
        <Field label="or set by turn, the maker’s words" value={is.turn} onInput={set('turn')} />
        {(kind === 'sender-gasket' || kind === 'cap') && (
          <>
            <Field label="Screws of the flange" value={is.bolts} onInput={set('bolts')} />
            <Field label="Passes" value={is.passes} onInput={set('passes')} />
            <Choice
              label="Sequence"
              value={is.sequence}
              options={[
                ['crosswise', 'crosswise'],
                ['star', 'star'],
                ['around', 'around'],
              ]}
              onPick={set('sequence')}
            />
          </>
        )}
        <Field label="Sealant" value={is.sealant} onInput={set('sealant')} />
        <Field
          label="Its cure time, such as 24 h; 0 h if it does not cure"
          value={is.cure}
          onInput={set('cure')}
        />
        <Field label="Maker’s range, if other" value={is.range} onInput={set('range')} />
        <Field label="Where that range stands" value={is.source} onInput={set('source')} />
        <Field label="Torque wrench" value={is.tool} onInput={set('tool')} />
        <TimeField label="Calibrated on" type="date" value={is.calibrated} onInput={set('calibrated')} />
        <TimeField label="Next due" type="date" value={is.due} onInput={set('due')} />
        <Field label="Done by" value={is.by} onInput={set('by')} />
        <TimeField label="When" type="datetime-local" value={is.at} onInput={set('at')} />
      </div>
      <p>
        {range ? `${is.fitting}: ${range}.` : `${is.fitting}: no published range.`} The maker’s range comes
        first.
      </p>
      <label class="check">
        <input
          type="checkbox"
          checked={witnessMark.value}
          onChange={(event) => (witnessMark.value = event.currentTarget.checked)}
        />
        A witness mark (torque seal) runs across nut and body
      </label>
      <Judge<WorkResult> path="/api/torque" found={found} sheet={() => ({ work: [line()] })} />
    </section>
  )
}
