import { useSignal } from '@preact/signals'
import { isSectionPressure } from '#analysis/model/system.ts'
import type { LiveState, LostAnswer, PressureLost } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { bench, channelsOf, mayOperate, take } from '../live/bench.ts'
import { toastError } from '../parts/toast.tsx'
import { pressure, withUnit } from '../quantity.ts'

const answers: readonly (readonly [LostAnswer, string])[] = [
  ['vented', 'I vented it'],
  ['let-go', 'A joint let go'],
  ['unknown', 'I do not know'],
]

/** A section that still has this part of what it had may go on: a hand on the hose, a gust on a tank. */
const STILL_HELD = 0.5

/** The pressure fell as no leak explains: the verdict is off until somebody says why. */
export function LostQuestion({ lost }: { lost: PressureLost }) {
  const busy = useSignal(false)
  const answer = async (given: LostAnswer): Promise<void> => {
    busy.value = true
    try {
      take(await post<LiveState>('/api/hold/lost', { answer: given }))
    } catch (error) {
      toastError(error)
    } finally {
      busy.value = false
    }
  }
  const now = channelsOf(lost.section, isSectionPressure)
    .map((one) => bench.value?.newest[one.id]?.reading)
    .find((reading) => reading !== undefined)
  const holds = now !== undefined && now / lost.fromPa > STILL_HELD
  const shown = holds ? [...answers, ['still-holding', 'It still holds: go on'] as const] : answers
  return (
    <section class="panel lost-question is-fail" aria-labelledby="lost-title">
      <h2 id="lost-title">Pressure lost. Was it vented, or did a joint let go?</h2>
      <p>
        {lost.section} went from {withUnit(lost.fromPa, pressure(), 2)} to{' '}
        {withUnit(lost.toPa, pressure(), 2)} faster than any leak of the interval. No verdict stands until you
        answer.
      </p>
      {mayOperate.value && (
        <div class="row">
          {shown.map(([given, words]) => (
            <button
              key={given}
              type="button"
              class="large"
              disabled={busy.value}
              onClick={() => void answer(given)}
            >
              {words}
            </button>
          ))}
        </div>
      )}
    </section>
  )
}
