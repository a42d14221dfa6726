import { useSignal } from '@preact/signals'
import { sendMark } from '../hold/mark-pad.tsx'
import { bench, mayOperate, system } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { displayOf, pressure, withUnit } from '../quantity.ts'

/**
 * Zero and calibration points, both written into the recording as marks: the readings themselves are never changed,
 * the analysis takes the marks into account.
 */
export function Zero() {
  const opened = useSignal<readonly string[]>([])
  const channels = (system.value?.channels ?? []).filter((one) => one.measures === 'gauge-pressure')
  const busy = bench.value?.hold !== null
  if (channels.length === 0) return <p class="empty">The system file names no gauge.</p>
  return (
    <div class="stack">
      <p>
        Open the gauge to the air, wait until the reading stands, then mark its zero. The recording keeps the
        readings as they came; the mark says what they read with nothing on them.
      </p>
      <ul class="zero-list">
        {channels.map((channel) => {
          const reading = (readings.value[channel.id] ?? bench.value?.newest[channel.id])?.reading ?? null
          const ready = opened.value.includes(channel.id)
          return (
            <li key={channel.id} class="row spread">
              <span>
                <strong>{channel.id}</strong>{' '}
                <span class="zero-reading">
                  {withUnit(reading, displayOf(channel.measures), pressure().decimals + 1)}
                </span>
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
                {channel.id} is open to the air
              </label>
              <button
                type="button"
                disabled={!ready || reading === null || busy || !mayOperate.value}
                onClick={async () => {
                  await sendMark(
                    { kind: 'zero', id: channel.id, fields: { read_Pa: reading! } },
                    `zero of ${channel.id}`,
                  )
                  opened.value = opened.value.filter((one) => one !== channel.id)
                }}
              >
                Mark its zero
              </button>
            </li>
          )
        })}
      </ul>
      {busy && <p class="soft">A hold is running: zero is marked before or after it.</p>}
      <p class="soft">
        Calibration points belong in the system file under the channel, as <code>[true, read]</code> pairs
        with the date: they then go with every record.
      </p>
    </div>
  )
}
