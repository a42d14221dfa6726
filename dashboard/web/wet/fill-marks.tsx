import { useSignal } from '@preact/signals'
import type { LiveState } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { mayOperate, take } from '../live/bench.ts'
import { toast } from '../parts/toast.tsx'
import { Choice, Field, stated } from './judge.tsx'

/** Marks each pour in the running recording, at the moment it stands in the tank. */
export function FillMarks({ tank }: { readonly tank: string | null }) {
  const form = useSignal({ volume: '5 L ± 0.5 %', attitude: 'level', direction: 'up', total: '' })
  const made = useSignal<readonly string[]>([])
  const wrong = useSignal<string | null>(null)
  const is = form.value
  const set = (key: keyof typeof is) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const mark = async (words: string, fields: Readonly<Record<string, string | boolean>>) => {
    try {
      const all = stated({ attitude: is.attitude, total: is.total, ...fields }) as typeof fields
      take(await post<LiveState>('/api/mark', { kind: 'fill', id: tank ?? undefined, fields: all }))
      made.value = [...made.value, `${new Date().toLocaleTimeString()}: ${words}`]
      form.value = { ...form.value, total: '' }
      wrong.value = null
      toast(`Marked: ${words}.`)
    } catch (error) {
      wrong.value = error instanceof Error ? error.message : String(error)
    }
  }
  const poured = { volume: is.volume, direction: is.direction }
  const way = is.direction === 'up' ? 'poured in' : 'drawn off'
  return (
    <section class="stack" aria-labelledby="fill-marks">
      <h3 id="fill-marks">Mark the pours{tank && ` of ${tank}`}</h3>
      <div class="filters wet-fields">
        <Field label="Amount with its tolerance" value={is.volume} onInput={set('volume')} />
        <Choice
          label="Fuel is"
          value={is.direction}
          options={[
            ['up', 'poured in'],
            ['down', 'drawn off'],
          ]}
          onPick={set('direction')}
        />
        <Choice
          label="Aircraft stands"
          value={is.attitude}
          options={[
            ['level', 'level'],
            ['ground', 'as on the ground'],
          ]}
          onPick={set('attitude')}
        />
        <Field label="Total by pump or scale, if known" value={is.total} onInput={set('total')} />
      </div>
      <div class="row">
        <button
          type="button"
          disabled={!mayOperate.value}
          onClick={() => mark('at unusable fuel', { start: 'unusable' })}
        >
          Mark: at unusable fuel
        </button>
        <button
          type="button"
          class="main"
          disabled={!mayOperate.value || is.volume === ''}
          onClick={() => mark(`${is.volume} ${way}`, poured)}
        >
          Mark: {is.volume} {way}
        </button>
        <button
          type="button"
          disabled={!mayOperate.value || is.direction !== 'up'}
          onClick={() => mark(`${is.volume} ${way}, brim-full`, { ...poured, full: true })}
        >
          Mark: and it is brim-full
        </button>
      </div>
      {wrong.value && <p class="note is-undecided">{wrong.value}</p>}
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
