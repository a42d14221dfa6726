import { median } from 'simple-statistics'
import type { ChannelSamples } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import type { Fill } from './fill-marks.ts'
import type { PointFault } from './level-result.ts'

/** What the sender said after one fill. */
export interface SteadyReading {
  readonly reading: number | null
  readonly std: number
  readonly fault: { readonly code: PointFault; readonly message: string } | null
}

/** The fuel sloshes this long after a pour, and is read for at most so long after that, [s]. Own figures. */
const sloshS = 10
const windowS = 40
const fewestReadings = 5

/**
 * Reading of the sender after a fill: the median from ten seconds after the mark on, for at most forty seconds and
 * not into the last fifth of the time to the next pour.
 *
 * The standard uncertainty of a median of n normal readings is √(π/2n) of theirs ([jcgm-100] 4.2.3 for the mean; the
 * factor is common practice); the scatter is taken as 1.4826 times the median deviation, and never below a step of the
 * reading over √12.
 */
export function steadyReading(
  samples: ChannelSamples,
  channel: LevelGauge,
  fill: Fill,
  nextS: number | null,
): SteadyReading {
  const from = fill.timeS + sloshS
  const until = Math.min(
    from + windowS,
    nextS === null ? from + windowS : fill.timeS + (nextS - fill.timeS) * 0.8,
  )
  const values: number[] = []
  for (let i = firstIndexAt(samples.timeS, from); i < samples.timeS.length && samples.timeS[i] <= until; i++)
    values.push(samples.reading[i])
  const fault = (code: PointFault, message: string, reading: number | null): SteadyReading => ({
    reading,
    std: 0,
    fault: { code, message },
  })
  if (values.length < fewestReadings) {
    return fault(
      'too-few-readings',
      `${values.length} readings between ${sloshS} s after the pour and the next one; wait longer after each pour`,
      null,
    )
  }
  const middle = median(values)
  const scatter = 1.4826 * median(values.map((value) => Math.abs(value - middle)))
  const std = Math.max(scatter, (channel.resolutionSi ?? 0) / Math.sqrt(12))
  const third = Math.ceil(values.length / 3)
  const drift = Math.abs(median(values.slice(0, third)) - median(values.slice(-third)))
  const driftAllowed = 6 * std * Math.sqrt(Math.PI / third) + (channel.resolutionSi ?? 0)
  if (drift > driftAllowed && drift > 2e-3 * Math.abs(middle)) {
    return fault(
      'not-settled',
      `the reading still moved by ${drift.toPrecision(2)} while it was taken; wait longer`,
      middle,
    )
  }
  if (channel.rangeSi !== null) {
    const [low, high] = channel.rangeSi
    const edge = (high - low) * 1e-4
    if (middle <= low + edge || middle >= high - edge)
      return fault('end-of-span', 'the reading stands at the end of the sensor’s span', middle)
  }
  return { reading: middle, std: std * Math.sqrt(Math.PI / (2 * values.length)), fault: null }
}

/** The gauge that is calibrated: a channel of the file, or the panel. */
export type LevelGauge = Pick<Channel, 'id' | 'unit' | 'resolutionSi' | 'rangeSi'>
