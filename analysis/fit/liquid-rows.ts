import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { coarseStepPa } from '#analysis/signal/coarse-step.ts'
import { samplesOf } from '#analysis/signal/pressure-signal.ts'
import { sampleNoise, varianceOfMean } from '#analysis/signal/sample-noise.ts'
import { sliceOf } from '#analysis/signal/sample-slice.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/unknown-weather.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { GasHold } from './gas-rows.ts'
import type { LiquidRows } from './liquid-columns.ts'
import type { Stroke } from './liquid-strokes.ts'

/**
 * Rows are this long, [s], or a share of the hold: long enough that the thermometer's noise is new in each although the
 * fuel lags behind it, and short enough for the swings of a room.
 */
const rowS = { least: 10, most: 30, shareOfHold: 1 / 24 }

/** Drift of a thermometer over a hold that its noise does not tell, one std, [K]. Own figure. */
const thermometerDriftK = 0.002

/** Time after a stroke's mark that may still belong to it, [s]. */
const handS = 3

/** The rows of a liquid fit, and the finer ones of its curves. */
export interface LiquidHold {
  readonly rows: LiquidRows
  readonly drawn: LiquidRows
}

/**
 * Brings a hold's blocks to the rows of the liquid fit.
 *
 * The temperature is taken as it was read, not smoothed: a full line feels a thousandth of a kelvin, and what smoothing
 * leaves of the thermometer's noise would be correlated and pass for weather.
 *
 * @param sections whose thermometers count
 */
export function liquidHold(
  recording: Recording,
  system: System,
  hold: GasHold,
  stages: HoldStages,
  sections: readonly string[],
  volumeM3: number,
  strokes: readonly Stroke[],
): LiquidHold {
  const { spec } = stages
  const { middleS } = hold
  const last = middleS.length - 1
  const first = afterStrokes(middleS, strokes, stages.holdS)
  const spanS = middleS[last] - middleS[first]
  const longS = Math.min(rowS.most, Math.max(rowS.least, rowS.shareOfHold * spanS))
  const groups = grouped(middleS, first, longS)
  const over = (values: Float64Array): Float64Array =>
    Float64Array.from(groups, ([from, to]) => {
      let sum = 0
      for (let i = from; i < to; i++) sum += values[i]
      return sum / (to - from)
    })
  const variancePa2 = hold.rows.variance.map((v, i) => v * hold.absolutePa[i] ** 2)
  const timeS = over(middleS)
  const read = readTemperature(recording, system, sections, groups, middleS)
  const heldS = middleS[last] - Math.max(middleS[0], stages.holdS ?? 0)
  const shared = {
    originS: middleS[first],
    testGaugePa: spec.pressurePa,
    testPa: hold.testPa,
    statedHoldS: spec.holdS,
    heldS,
    volumeM3,
    unseenK: read === null ? hold.unseenTemperatureK : Math.hypot(thermometerDriftK, read.steppedK),
    unseenPa: Math.hypot(
      hold.barometricPa === null ? unknownWeatherPaPerS * spec.holdS : 0,
      coarseStepPa(hold.noise, heldS, spec.holdS),
    ),
  }
  const smooth = hold.temperatureK && over(hold.temperatureK)
  return {
    rows: {
      ...shared,
      timeS,
      gaugePa: over(hold.gaugePa),
      absolutePa: over(hold.absolutePa),
      variancePa2: over(variancePa2).map((v, k) => v / (groups[k][1] - groups[k][0])),
      temperatureK: smooth && read ? read.kelvin.map((t, k) => (Number.isNaN(t) ? smooth[k] : t)) : smooth,
      temperatureVarianceK2: read?.varianceK2 ?? new Float64Array(timeS.length),
    },
    drawn: {
      ...shared,
      timeS: middleS,
      gaugePa: hold.gaugePa,
      absolutePa: hold.absolutePa,
      variancePa2,
      temperatureK: hold.temperatureK,
      temperatureVarianceK2: new Float64Array(middleS.length),
    },
  }
}

/** Index of the first block after the last stroke before the hold: what a push warms is then heat like that of pumping. */
function afterStrokes(middleS: Float64Array, strokes: readonly Stroke[], holdS: number | null): number {
  const lastS = strokes.reduce(
    (latest, { timeS }) => (holdS !== null && timeS < holdS ? Math.max(latest, timeS) : latest),
    Number.NEGATIVE_INFINITY,
  )
  const first = middleS.findIndex((t) => t > lastS + handS)
  return first < 0 || middleS.length - first < 8 ? 0 : first
}

/** Index ranges of blocks that together last about `longS`; at least eight where there are as many blocks. */
function grouped(middleS: Float64Array, first: number, longS: number): [from: number, to: number][] {
  const n = middleS.length
  const spanS = middleS[n - 1] - middleS[first]
  const count = Math.max(Math.min(n - first, 8), Math.round(spanS / longS))
  const out: [number, number][] = []
  let from = first
  for (let k = 1; k <= count && from < n; k++) {
    const untilS = middleS[first] + (spanS * k) / count
    // what is left must do for the groups to come
    let to = from + 1
    while (to < n - (count - k) && middleS[to] <= untilS) to++
    if (k === count) to = n
    out.push([from, to])
    from = to
  }
  return out
}

/** Means of the thermometers as read over the rows, NaN where a row has none, and what their noise does there. */
function readTemperature(
  recording: Recording,
  system: System,
  sections: readonly string[],
  groups: readonly (readonly [from: number, to: number])[],
  middleS: Float64Array,
): { kelvin: Float64Array; varianceK2: Float64Array; steppedK: number } | null {
  const kelvin = new Float64Array(groups.length)
  const varianceK2 = new Float64Array(groups.length)
  let steppedK = 0
  let count = 0
  const edge = (i: number): number =>
    i <= 0
      ? middleS[0]
      : i >= middleS.length
        ? middleS[middleS.length - 1]
        : (middleS[i - 1] + middleS[i]) / 2
  for (const channel of system.channels) {
    if (channel.measures !== 'temperature' || channel.section === null || !sections.includes(channel.section))
      continue
    const samples = samplesOf(recording, channel)
    if (samples === null) continue
    const reading = calibratedReadings(channel, samples.reading)
    const noise = sampleNoise(
      sliceOf(samples.timeS, reading, middleS[0], middleS[middleS.length - 1]),
      channel.resolutionSi,
    )
    count++
    steppedK = Math.max(steppedK, noise.coarse ? noise.step / Math.sqrt(12) : noise.ripple / Math.SQRT2)
    groups.forEach(([from, to], k) => {
      const part = sliceOf(samples.timeS, reading, edge(from), edge(to)).filter((t) => !Number.isNaN(t))
      kelvin[k] += part.reduce((sum, t) => sum + t, 0) / part.length
      varianceK2[k] += varianceOfMean(noise, Math.max(1, part.length))
    })
  }
  if (count === 0) return null
  return {
    kelvin: kelvin.map((t) => t / count),
    varianceK2: varianceK2.map((v) => v / count ** 2),
    steppedK: steppedK / Math.sqrt(count),
  }
}
