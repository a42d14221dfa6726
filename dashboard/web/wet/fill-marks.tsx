import { useSignal } from '@preact/signals'
import { t } from '#analysis/reasons/language.ts'
import { mayOperate, tell as tellBench } from '../live/bench.ts'
import { Choice, Field, partOf } from '../parts/fields.tsx'
import { toast } from '../parts/toast.tsx'
import { clockTime } from '../quantity.ts'
import { Trouble, useTrouble } from './judge.tsx'
import { stated } from './sheet-form.tsx'

const directions = [
  ['up', t`poured in`],
  ['down', t`drawn off`],
] as const
const attitudes = [
  ['level', t`level`],
  ['ground', t`as on the ground`],
] as const

/** Marks each pour in the running recording, once it is in the tank. */
export function FillMarks({ tank }: { readonly tank: string | null }) {
  const form = useSignal({ volume: '5 L ± 0.5 %', attitude: 'level', direction: 'up', total: '' })
  const made = useSignal<readonly string[]>([])
  const { wrong, tell } = useTrouble()
  const { volume, attitude, direction, total } = form.value
  const mark = (words: string, fields: Readonly<Record<string, string | boolean>>) =>
    tell(async () => {
      const all = stated({ attitude, total, ...fields })
      await tellBench('/api/mark', { kind: 'fill', id: tank ?? undefined, fields: all })
      made.value = [...made.value, `${clockTime(new Date().toISOString())}: ${words}`]
      form.value = { ...form.value, total: '' }
      toast(t`Marked: ${words}.`)
    })
  const poured = `${volume} ${direction === 'up' ? t`poured in` : t`drawn off`}`
  const off = !mayOperate.value
  return (
    <section class="stack" aria-labelledby="fill-marks">
      <h3 id="fill-marks">Mark the pours{tank && t` of ${tank}`}</h3>
      <div class="filters wet-fields">
        <Field label="Amount with its tolerance" of={partOf(form, 'volume')} />
        <Choice label="Fuel is" of={partOf(form, 'direction')} options={directions} />
        <Choice label="Aircraft stands" of={partOf(form, 'attitude')} options={attitudes} />
        <Field label="Total by pump or scale, if known" of={partOf(form, 'total')} />
      </div>
      <div class="row">
        <button type="button" disabled={off} onClick={() => mark(t`at unusable fuel`, { start: 'unusable' })}>
          Mark: at unusable fuel
        </button>
        <button
          type="button"
          class="main"
          disabled={off || volume === ''}
          onClick={() => mark(poured, { volume, direction })}
        >
          Mark: {poured}
        </button>
        <button
          type="button"
          disabled={off || direction !== 'up'}
          onClick={() => mark(t`${poured}, brim-full`, { volume, direction, full: true })}
        >
          Mark: and it is brim-full
        </button>
      </div>
      <Trouble of={wrong} />
      {made.value.length > 0 && (
        <ol aria-label="Marks made here">
          {made.value.map((one) => (
            <li key={one}>{one}</li>
          ))}
        </ol>
      )}
      <p class="small soft">
        The marks go into the recording that runs, beside the sender’s readings. Wait a minute after each
        before the next.
      </p>
    </section>
  )
}
