import { blockAverages } from './block-averages.ts'
import { sampleNoise } from './sample-noise.ts'
import { sliceOf } from './sample-slice.ts'
import { smoothTrend } from './smooth-trend.ts'

/** A slowly changing quantity at the middles of a hold's blocks. */
export interface BlockTrend {
  readonly value: Float64Array
  readonly variance: Float64Array
  /** Blocks that have samples. */
  readonly known: number
  /** Change over the hold that the sensor could miss, in its unit: two roundings where its steps are coarse. */
  readonly unseen: number
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
    const rounding = noise.coarse ? noise.step ** 2 / 12 : noise.step ** 2 / 12 / count
    return Math.max(noise.std ** 2 / count, 1e-8) + rounding
  })
  const trend = smoothTrend(middleS, means, variance, roughStart)
  const last = trend.variance.length - 1
  const ends = Math.sqrt(trend.variance[0] + trend.variance[last])
  return {
    value: trend.value,
    variance: trend.variance,
    known,
    unseen: Math.max(ends, noise.coarse ? noise.step / Math.sqrt(6) : 0),
  }
}

/** Whether any reading of the hold differs from its first; one that stood still tells its step elsewhere. */
function moved(timeS: Float64Array, reading: Float64Array, edges: Float64Array): boolean {
  const seen = sliceOf(timeS, reading, edges[0], edges[edges.length - 1])
  return seen.some((value) => !Number.isNaN(value) && value !== seen[0])
}
