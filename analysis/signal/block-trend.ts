import { blockAverages } from './block-averages.ts'
import { sampleNoise, varianceOfMean } from './sample-noise.ts'
import { sliceOf } from './sample-slice.ts'
import { type SmoothTrend, smoothTrend } from './smooth-trend.ts'

/** A slowly changing quantity at the middles of a hold's blocks. */
export interface BlockTrend {
  readonly value: Float64Array
  readonly variance: Float64Array
  /** Raw means of the blocks, NaN where empty, and their variance. */
  readonly read: Float64Array
  readonly readVariance: Float64Array
  /** Blocks that have samples. */
  readonly known: number
  /** Change over the hold below the sensor's resolution, in its unit: two roundings at coarse steps, else the dither residual. */
  readonly unseen: number
  /** The part of it due to steps, which averaging cannot reduce. */
  readonly hidden: number
}

/**
 * Smooths a channel over the kept blocks of a hold.
 *
 * @param roughStart whether its first fifth may be much rougher than the rest
 */
export function blockTrend(
  timeS: Float64Array,
  reading: Float64Array,
  edges: Float64Array,
  kept: readonly number[],
  middleS: Float64Array,
  resolution: number | null = null,
  roughStart = false,
): BlockTrend {
  const noise = sampleNoise(
    sliceOf(timeS, reading, edges[0], edges[edges.length - 1]),
    resolution ?? (moved(timeS, reading, edges) ? null : sampleNoise(reading).step),
  )
  const blocks = blockAverages(
    timeS,
    reading,
    edges,
    Math.max(12 * noise.std, 4 * noise.step) || Number.POSITIVE_INFINITY,
  )
  const means = Float64Array.from(kept, (b) => blocks.mean[b])
  let known = 0
  const variance = Float64Array.from(kept, (b) => {
    const count = blocks.count[b]
    if (count === 0) return Number.POSITIVE_INFINITY
    known++
    return Math.max(varianceOfMean(noise, count), 1e-8)
  })
  // The trend does not extend before the first reading: there it may be a thousand times rougher.
  const first = Math.max(0, variance.findIndex(Number.isFinite))
  const trend = smoothTrend(
    middleS.subarray(first),
    means.subarray(first),
    variance.subarray(first),
    roughStart,
  )
  const hidden = noise.coarse ? noise.step / Math.sqrt(6) : noise.ripple
  const ends = Math.sqrt(trend.variance[0] + trend.variance[trend.variance.length - 1])
  return {
    ...carriedBack(trend, middleS, first),
    read: means.map((mean, i) => (Number.isFinite(variance[i]) ? mean : Number.NaN)),
    readVariance: variance,
    known,
    unseen: Math.max(ends, hidden),
    hidden,
  }
}

/** Blocks before the first reading: extrapolated with its slope, whose variance allows zero or twice the slope. */
function carriedBack(
  trend: SmoothTrend,
  middleS: Float64Array,
  first: number,
): { value: Float64Array; variance: Float64Array } {
  if (first === 0) return trend
  const value = new Float64Array(middleS.length)
  const variance = new Float64Array(middleS.length)
  value.set(trend.value, first)
  variance.set(trend.variance, first)
  for (let i = 0; i < first; i++) {
    const moved = trend.slope[0] * (middleS[i] - middleS[first])
    value[i] = trend.value[0] + moved
    variance[i] = trend.variance[0] + moved ** 2
  }
  return { value, variance }
}

/** Whether any reading of the hold differs from its first; a constant channel shows its step only elsewhere. */
function moved(timeS: Float64Array, reading: Float64Array, edges: Float64Array): boolean {
  const seen = sliceOf(timeS, reading, edges[0], edges[edges.length - 1])
  return seen.some((value) => !Number.isNaN(value) && value !== seen[0])
}
