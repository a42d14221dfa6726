import type { Channel, HoldSpec, System } from '#analysis/model/system.ts'
import { bench, isLive } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { trueReading } from '../live/true-reading.ts'
import { displayOf, withUnit } from '../quantity.ts'

export interface Aliveness {
  readonly channel: Channel
  readonly reading: number | null
  readonly alive: boolean
  readonly words: string
}

/** A vented gauge reads less than this share of the test pressure: the analysis takes its zero from there. */
const OPEN_SHARE = 0.05
const NEEDED = ['gauge-pressure', 'absolute-pressure', 'temperature', 'barometric-pressure']

/** Whether the sensors this hold needs speak now and stand where an open section should stand. */
export function sensorsOf(spec: HoldSpec, system: System): readonly Aliveness[] {
  const nowS = bench.value?.nowS ?? 0
  return system.channels
    .filter((one) => NEEDED.includes(one.measures))
    .filter((one) => one.section === null || spec.sections.includes(one.section))
    .map((channel) => {
      const last = readings.value[channel.id] ?? bench.value?.newest[channel.id]
      if (last === undefined) return { channel, reading: null, alive: false, words: 'has said nothing yet' }
      // Bench time stands still with the server: no reading would ever seem old.
      if (!isLive.value) return { channel, reading: last.reading, alive: false, words: 'not heard now' }
      const quietS = nowS - last.timeS
      if (quietS > 10)
        return { channel, reading: last.reading, alive: false, words: `silent for ${Math.round(quietS)} s` }
      const [low, high] = channel.rangeSi ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
      const margin = (high - low) * 0.001
      if (Number.isFinite(margin) && (last.reading >= high - margin || last.reading < low - margin * 20)) {
        return { channel, reading: last.reading, alive: false, words: 'at the end of its span' }
      }
      const reading = trueReading(channel.id, last.reading)
      const vented =
        channel.measures !== 'gauge-pressure' || Math.abs(reading) < Math.abs(spec.pressurePa) * OPEN_SHARE
      return {
        channel,
        reading,
        alive: true,
        words: vented
          ? 'speaks'
          : 'speaks, and is not at zero: vent the section first, so that its zero is seen',
      }
    })
}

export function SensorsAlive({ spec, system }: { spec: HoldSpec; system: System }) {
  const sensors = sensorsOf(spec, system)
  const baro = sensors.some((one) => one.channel.measures === 'barometric-pressure')
  return (
    <div class="stack tight">
      <ul class="sensor-list">
        {sensors.map(({ channel, reading, alive, words }) => (
          <li key={channel.id} class={alive ? 'is-proven' : 'is-failed'}>
            <span class="sensor-word">{alive ? '●' : '◆'}</span>
            <strong>{channel.id}</strong>
            <span>{withUnit(reading, displayOf(channel.measures))}</span>
            <span class="soft">{words}</span>
          </li>
        ))}
      </ul>
      {!baro && <p class="soft">No barometer: its unknown change widens the interval.</p>}
      <p class="soft">
        The pump is the real proof: the gauge must go with it and come back with the vent, or the hold is
        void.
      </p>
    </div>
  )
}
