import type { Channel, ChannelKind } from '#analysis/model/system.ts'
import { scaledReading } from '#analysis/physics/sensor-scale.ts'
import { type Dimension, findUnit } from '#analysis/physics/units.ts'

/** Times and numbers of one field, in time order. */
export interface TimedNumbers {
  readonly timeS: Float64Array
  readonly values: Float64Array
}

const dimensionOf: Readonly<Record<ChannelKind, Dimension | null>> = {
  'gauge-pressure': 'pressure',
  'absolute-pressure': 'pressure',
  'barometric-pressure': 'pressure',
  'reference-pressure': 'pressure',
  temperature: 'temperature',
  'fuel-flow': 'volume-flow',
  // Ohms, hertz or counts have no SI meaning until the sender is calibrated.
  'level-sender': null,
}

/** Maximum age of a usable rail reading, [s]. */
const oldestRailS = 5

/**
 * Converts the logger's numbers to the channel's SI unit, in place when every number is a reading. Numbers that the
 * scale cannot convert are left out and counted.
 *
 * @param rail supply of a ratiometric sensor; its newest value at or before a sample's time counts
 */
export function scaleColumn(
  channel: Channel,
  { timeS, values }: TimedNumbers,
  rail: TimedNumbers | null,
): TimedNumbers & { readonly left: number } {
  const { scale } = channel
  if (scale === null) {
    toSi(channel, values)
    return { timeS, values, left: 0 }
  }
  let railAt = -1
  let left = 0
  for (let i = 0; i < values.length; i++) {
    let railValue = Number.NaN
    if (rail !== null) {
      while (rail.timeS[railAt + 1] <= timeS[i]) railAt++
      if (timeS[i] - rail.timeS[railAt] <= oldestRailS) railValue = rail.values[railAt]
    }
    values[i] = scaledReading(scale, values[i], railValue)
    if (Number.isNaN(values[i])) left++
  }
  if (left === 0) return { timeS, values, left }
  const kept = (_: number, i: number) => !Number.isNaN(values[i])
  return { timeS: timeS.filter(kept), values: values.filter(kept), left }
}

function toSi(channel: Channel, values: Float64Array): void {
  const dimension = dimensionOf[channel.measures]
  if (dimension === null) return
  const found = findUnit(channel.unit, dimension)
  if (found === null) throw new RangeError(`channel ${channel.id}: unit ${channel.unit} was not checked`)
  const { times, over, offset } = found.unit
  // In place: a day at 100 Hz has eight million values.
  for (let i = 0; i < values.length; i++) values[i] = ((values[i] + offset) * times) / over
}
