import { blockAverages } from './block-averages.ts'
import { sliceOf } from './column-spans.ts'
import { sampleNoise, spikeLimit, varianceOfMean } from './sample-noise.ts'

/** Time blocks of a hold: the edges of all, those with pressure readings, and the middles of these, [s]. */
export interface HoldBlocks {
  readonly edges: Float64Array
  readonly kept: readonly number[]
  readonly middleS: Float64Array
}

/**
 * A slowly changing quantity at the middles of a hold's blocks: a channel smoothed over the kept ones.
 *
 * @param roughStart whether its first fifth may be much rougher than the rest
 */
export function blockTrend(
  timeS: Float64Array,
  reading: Float64Array,
  { edges, kept, middleS }: HoldBlocks,
  resolution: number | null = null,
  roughStart = false,
) {
  const noise = sampleNoise(
    sliceOf(timeS, reading, edges[0], edges[edges.length - 1]),
    resolution ?? (moved(timeS, reading, edges) ? null : sampleNoise(reading).step),
  )
  const blocks = blockAverages(timeS, reading, edges, spikeLimit(noise))
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
  const [restS, restMeans, restVariance] = [middleS, means, variance].map((column) => column.subarray(first))
  const trend = smoothTrend(restS, restMeans, restVariance, roughStart)
  const hidden = noise.coarse ? noise.step / Math.sqrt(6) : noise.ripple
  const ends = Math.sqrt(trend.variance[0] + trend.variance[trend.variance.length - 1])
  return {
    ...carriedBack(trend, middleS, first),
    /** Raw means of the blocks, NaN where empty, and their variance. */
    read: means.map((mean, i) => (Number.isFinite(variance[i]) ? mean : Number.NaN)),
    readVariance: variance,
    /** Blocks that have samples. */
    known,
    /** Change over the hold below the sensor's resolution, in its unit: two roundings at coarse steps, else the dither residual. */
    unseen: Math.max(ends, hidden),
    /** The part of it due to steps, which averaging cannot reduce. */
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

/** Extra roughness at the very start, decaying over the first fifth. */
const earlyRoughness = 1e4

/** A smoothed column and the variance of each of its values. */
interface SmoothTrend {
  readonly value: Float64Array
  /** Slope at each time, unit a second. */
  readonly slope: Float64Array
  readonly variance: Float64Array
}

/**
 * Smooths a noisy, slowly changing quantity (temperature, barometer) by a local linear trend, run forward and back. Its
 * roughness maximizes the likelihood on a fixed ladder.
 *
 * @param timeS block times, ascending, [s]
 * @param mean block means; ignored where variance is Infinity
 * @param variance variance of each mean
 * @param roughStart whether the first fifth may be much rougher than the rest: there the gas still cools from pump-up
 * *Source* Durbin & Koopman, local linear trend model with fixed-interval smoothing.
 */
function smoothTrend(
  timeS: Float64Array,
  mean: Float64Array,
  variance: Float64Array,
  roughStart = false,
): SmoothTrend {
  const n = timeS.length
  const span = Math.max(1e-9, timeS[n - 1] - timeS[0])
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let typical = 0
  let known = 0
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(variance[i])) continue
    low = Math.min(low, mean[i])
    high = Math.max(high, mean[i])
    typical += variance[i]
    known++
  }
  if (known < 3) {
    const level = known > 0 ? (low + high) / 2 : 0
    return {
      value: new Float64Array(n).fill(level),
      slope: new Float64Array(n),
      variance: new Float64Array(n).fill(typical / Math.max(1, known)),
    }
  }
  typical /= known
  // Roughness is the variance of the slope's random walk; this unit makes it the noise over the whole span.
  const unit = typical / span ** 3
  let best: { likelihood: number; trend: SmoothTrend } | null = null
  for (let power = -1; power <= 11; power++) {
    const trend = smoothAt(timeS, mean, variance, unit * 10 ** power, roughStart ? earlyRoughness : 0)
    if (best === null || trend.likelihood > best.likelihood) best = { likelihood: trend.likelihood, trend }
  }
  return (best as { trend: SmoothTrend }).trend
}

function smoothAt(
  timeS: Float64Array,
  mean: Float64Array,
  variance: Float64Array,
  roughness: number,
  early: number,
): SmoothTrend & { likelihood: number } {
  const n = timeS.length
  const first = variance.findIndex(Number.isFinite)
  const second = variance.findIndex((v, i) => i > first && Number.isFinite(v))
  const earlyS = 0.04 * (timeS[n - 1] - timeS[0])
  // Diffuse prior of the first level and slope; a larger one would cost digits in the backward pass.
  const big = 1e6 * variance[first]
  const stepS = timeS[second] - timeS[first]
  // Predicted (a, P) and filtered states, kept for the backward pass.
  const level = new Float64Array(n)
  const slope = new Float64Array(n)
  const p11 = new Float64Array(n)
  const p12 = new Float64Array(n)
  const p22 = new Float64Array(n)
  const predLevel = new Float64Array(n)
  const q11 = new Float64Array(n)
  const q12 = new Float64Array(n)
  const q22 = new Float64Array(n)
  let l = mean[first]
  let s = 0
  let a = big
  let b = 0
  let c = big / stepS ** 2
  let likelihood = 0
  for (let i = 0; i < n; i++) {
    const d = i > 0 ? timeS[i] - timeS[i - 1] : 0
    if (i > 0) {
      const here = roughness * (1 + early * Math.exp((timeS[0] - timeS[i]) / earlyS))
      l += s * d
      a += 2 * d * b + d * d * c + (here * d ** 3) / 3
      b += d * c + (here * d * d) / 2
      c += here * d
    }
    predLevel[i] = l
    q11[i] = a
    q12[i] = b
    q22[i] = c
    if (Number.isFinite(variance[i])) {
      const total = a + variance[i]
      const e = mean[i] - l
      if (a < big / 10) likelihood -= 0.5 * (Math.log(total) + (e * e) / total)
      const k1 = a / total
      const k2 = b / total
      l += k1 * e
      s += k2 * e
      c -= k2 * b
      b -= k1 * b
      a -= k1 * a
    }
    level[i] = l
    slope[i] = s
    p11[i] = a
    p12[i] = b
    p22[i] = c
  }
  const value = new Float64Array(n)
  const steepness = new Float64Array(n)
  const spread = new Float64Array(n)
  let sl = level[n - 1]
  let ss = slope[n - 1]
  let v11 = p11[n - 1]
  let v12 = p12[n - 1]
  let v22 = p22[n - 1]
  value[n - 1] = sl
  steepness[n - 1] = ss
  spread[n - 1] = v11
  for (let i = n - 2; i >= 0; i--) {
    const d = timeS[i + 1] - timeS[i]
    // Gain J = P_filtered Fᵀ P_predicted⁻¹ of the next row.
    const f11 = p11[i] + d * p12[i]
    const f12 = p12[i]
    const f21 = p12[i] + d * p22[i]
    const f22 = p22[i]
    const det = q11[i + 1] * q22[i + 1] - q12[i + 1] ** 2
    const j11 = (f11 * q22[i + 1] - f12 * q12[i + 1]) / det
    const j12 = (f12 * q11[i + 1] - f11 * q12[i + 1]) / det
    const j21 = (f21 * q22[i + 1] - f22 * q12[i + 1]) / det
    const j22 = (f22 * q11[i + 1] - f21 * q12[i + 1]) / det
    const el = sl - predLevel[i + 1]
    const es = ss - slope[i]
    sl = level[i] + j11 * el + j12 * es
    ss = slope[i] + j21 * el + j22 * es
    const w11 = v11 - q11[i + 1]
    const w12 = v12 - q12[i + 1]
    const w22 = v22 - q22[i + 1]
    v11 = p11[i] + j11 * (j11 * w11 + j12 * w12) + j12 * (j11 * w12 + j12 * w22)
    v12 = p12[i] + j11 * (j21 * w11 + j22 * w12) + j12 * (j21 * w12 + j22 * w22)
    v22 = p22[i] + j21 * (j21 * w11 + j22 * w12) + j22 * (j21 * w12 + j22 * w22)
    value[i] = sl
    steepness[i] = ss
    spread[i] = Math.max(0, v11)
  }
  return { value, slope: steepness, variance: spread, likelihood }
}
