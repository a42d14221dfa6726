import { isSectionPressure } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { LostAnswer, PressureLost } from '#dashboard/api.ts'
import { bench, channelsOf, mayOperate, tell } from '../live/bench.ts'
import { useTask } from '../parts/use-answer.ts'
import { pressure, withUnit } from '../quantity.ts'

const answers: readonly (readonly [LostAnswer, string])[] = [
  ['vented', t`I vented it`],
  ['let-go', t`A joint let go`],
  ['unknown', t`I do not know`],
  ['still-holding', t`It still holds: continue`],
]

/** A section that keeps this share of its pressure may continue: a hand on the hose or a gust on a tank explains the fall. */
const STILL_HELD = 0.5

/** No leak explains the fall of the pressure: there is no verdict until the operator gives the cause. */
export function LostQuestion({ lost }: { lost: PressureLost }) {
  const { busy, run } = useTask()
  const now = channelsOf(lost.section, isSectionPressure)
    .map((one) => bench.value?.newest[one.id]?.reading)
    .find((reading) => reading !== undefined)
  const holds = now !== undefined && now / lost.fromPa > STILL_HELD
  const [from, to] = [lost.fromPa, lost.toPa].map((pa) => withUnit(pa, pressure(), 2))
  return (
    <section class="panel lost-question is-fail" aria-labelledby="lost-title">
      <h2 id="lost-title">Pressure lost. Was it vented, or did a joint let go?</h2>
      <p>
        {lost.section} went from {from} to {to} faster than any leak of the interval. There is no verdict
        until you answer.
      </p>
      {mayOperate.value && (
        <div class="row">
          {answers.slice(0, holds ? 4 : 3).map(([answer, words]) => (
            <button
              key={answer}
              type="button"
              class="large"
              disabled={busy.value}
              onClick={() => void run(() => tell('/api/hold/lost', { answer }))}
            >
              {words}
            </button>
          ))}
        </div>
      )}
    </section>
  )
}
