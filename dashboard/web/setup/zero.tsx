import { useSignal } from '@preact/signals'
import type { Channel } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { NewestReading } from '#dashboard/api.ts'
import { bench, mayOperate, system, trueReading } from '../live/bench.ts'
import { sendMark } from '../marks/send-mark.ts'
import { digits, displayOf, withUnit } from '../quantity.ts'

/** The analysis rejects a zero beyond this share of the span: it is a wrong mark, not a drift. */
const FURTHEST = 0.05
/** A reading that moves by more than this share of the span within five seconds is not steady. */
const STILL = 0.005

/** Why a zero cannot be taken now; null when it can. */
function whyNoZero(rangeSi: Channel['rangeSi'], lately: NewestReading['lately']): string | null {
  if (lately === undefined) return t`has sent no data yet`
  if (rangeSi === null) return null
  const span = rangeSi[1] - rangeSi[0]
  if (lately.high - lately.low > STILL * span) return t`is not steady yet`
  return Math.abs(lately.asRead) > FURTHEST * span ? t`is too far from zero: is the section vented?` : null
}

/** A zero is a mark in the recording: the samples are unchanged, and each analysis applies it. */
export function Zero() {
  const opened = useSignal<readonly string[]>([])
  const channels = (system.value?.channels ?? []).filter((one) => one.measures === 'gauge-pressure')
  const busy = bench.value?.hold !== null
  if (channels.length === 0) return <p class="empty">The system file names no gauge.</p>
  return (
    <div class="stack">
      <h3>Zero</h3>
      <p>
        Vent the section, open the gauge to the air and wait until it is steady: its zero is the mean of the
        last five seconds. The recording keeps the samples unchanged; from the mark on, the live values and
        the analysis apply it.
      </p>
      <ul class="zero-list">
        {channels.map((channel) => {
          const newest = bench.value?.newest[channel.id]
          const lately = newest?.lately
          const display = displayOf(channel.measures)
          const ready = opened.value.includes(channel.id)
          const why = whyNoZero(channel.rangeSi, lately)
          const shift = newest && lately ? newest.reading - lately.asRead : 0
          return (
            <li key={channel.id}>
              <span>
                <strong>{channel.id}</strong>{' '}
                <span class="zero-reading">
                  {withUnit(newest && trueReading(channel.id, newest.reading), display, display.decimals + 1)}
                </span>
                {lately && Math.abs(shift) > lately.high - lately.low && (
                  <span class="soft small">
                    {' '}
                    zero applied: {digits(shift * display.slope, display.decimals + 1)}
                  </span>
                )}
                {why && <span class="soft small"> {why}</span>}
              </span>
              <label class="check">
                <input
                  type="checkbox"
                  checked={ready}
                  disabled={!mayOperate.value || busy}
                  onChange={(event) => {
                    opened.value = event.currentTarget.checked
                      ? [...opened.value, channel.id]
                      : opened.value.filter((one) => one !== channel.id)
                  }}
                />
                {channel.id} is vented and open to the air
              </label>
              <button
                type="button"
                disabled={!ready || why !== null || busy || !mayOperate.value}
                onClick={async () => {
                  await sendMark(
                    { kind: 'zero', id: channel.id, fields: { reading: lately!.asRead, true: 0 } },
                    t`zero of ${channel.id}`,
                  )
                  opened.value = opened.value.filter((one) => one !== channel.id)
                }}
              >
                Take its zero
              </button>
            </li>
          )
        })}
      </ul>
      {busy && <p class="soft">A hold is running: a zero is taken before or after it.</p>}
    </div>
  )
}
