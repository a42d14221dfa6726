import type { HoldSpec } from '#analysis/model/system.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { firstIndexAt } from './block-averages.ts'
import { medianSpacing } from './column-spans.ts'
import type { PressureSignal } from './pressure-signal.ts'
import { sampleNoise } from './sample-noise.ts'

/** Shortest span that is averaged to one level, [s]. */
const shortestS = 1

/** Fewer readings than this in a whole recording were noted by hand. */
const fewReadings = 60

/**
 * A gauge's pressure thinned to about one level a second: short enough to resolve manual work, long enough for low noise.
 * The sign of a suction hold is inverted. NaN readings are skipped.
 */
export function pressureTrack(
  signal: PressureSignal,
  spec: Pick<HoldSpec, 'pressurePa'>,
  fromS = Number.NEGATIVE_INFINITY,
  toS = Number.POSITIVE_INFINITY,
) {
  const { timeS, gaugePa, channel } = signal
  const sign = spec.pressurePa < 0 ? -1 : 1
  // A few readings noted by hand are not averaged: each may be the pump-up or the vent.
  const spacingS = Math.max(
    shortestS,
    timeS.length < fewReadings ? 0 : 1.001 * medianSpacing(timeS, timeS[0], Number.POSITIVE_INFINITY),
  )
  const times: number[] = []
  const levels: number[] = []
  let bin = Number.NEGATIVE_INFINITY
  let sum = 0
  let sumS = 0
  let count = 0
  const close = () => {
    if (count === 0) return
    times.push(sumS / count)
    levels.push((sign * sum) / count)
    sum = 0
    sumS = 0
    count = 0
  }
  for (let i = 0; i < timeS.length; i++) {
    const at = timeS[i]
    if (at < fromS || at > toS || !Number.isFinite(gaugePa[i])) continue
    const here = Math.floor(at / spacingS)
    if (here !== bin) close()
    bin = here
    sum += gaugePa[i]
    sumS += at
    count++
  }
  close()
  const levelPa = withoutOutliers(Float64Array.from(levels))
  return {
    /** Mean time of the readings of each level, ascending, [s]. */
    timeS: Float64Array.from(times),
    /** Gauge pressure, positive under test, single outliers removed, [Pa]. */
    levelPa,
    /** Typical spacing of two levels, [s]. */
    spacingS,
    /** Stated test pressure, [Pa] > 0. */
    statedPa: Math.abs(spec.pressurePa),
    /** Standard deviation of a level about its neighbours between two indices, the converter's step included, [Pa]. */
    noisePa(from: number, to: number): number {
      const first = firstIndexAt(timeS, times[from] ?? 0)
      const last = firstIndexAt(timeS, times[to] ?? 0)
      const { step } = sampleNoise(signal.reading.subarray(first, last), channel.resolutionSi)
      // A converter without visible noise may still jump by a step at any moment.
      return Math.max(scatterOf(levelPa.subarray(from, to + 1)), step / Math.sqrt(12))
    },
  }
}

export type PressureTrack = Readonly<ReturnType<typeof pressureTrack>>

/** Running median of three: a single outlier is a spike. */
function withoutOutliers(levels: Float64Array): Float64Array {
  return levels.map((b, i) => {
    if (i === 0 || i === levels.length - 1) return b
    const a = levels[i - 1]
    const c = levels[i + 1]
    return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c))
  })
}

/** Levels per piece for the scatter, and the quantile of the pieces' scatter that is returned. */
const piece = 16
const quieterShare = 0.75

/** Scatter about straight pieces; manual pressure changes affect few of them. */
function scatterOf(levels: Float64Array): number {
  const scatters: number[] = []
  const places = Float64Array.from({ length: piece }, (_, i) => i)
  const stride = piece * Math.max(1, Math.floor(levels.length / (300 * piece)))
  for (let from = 0; from + piece <= levels.length; from += stride) {
    scatters.push(straightLine(places, levels.subarray(from, from + piece)).stdResidual)
  }
  return scatters.sort((a, b) => a - b)[Math.floor(quieterShare * scatters.length)] ?? 0
}
