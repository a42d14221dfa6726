import { memoize } from '#analysis/numeric/memoize.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { nthSmallest, rangeOf } from '#analysis/numeric/order-statistics.ts'

/** Noise below this share of a step does not dither it; scatter above the other, over a step, surely does. */
const leastSize = 0.15
const surelyDithers = 1

/**
 * Quantization error of a converter in an average of noisy readings.
 *
 * Noise σ dithers a step q: the mean error is (q/π)·e^(−2π²σ²/q²)·sin(2πx/q), with σ² ≤ std² − q²/12.
 *
 * @returns `coarse` where the noise is too small to dither the steps, so that averaging does not help; `ripple`, amplitude of
 * the error in an average, in the reading's unit, 0 at coarse steps, where the error is not sinusoidal
 *
 * *Source* first harmonic of the error of a dithered quantizer, Widrow & Kollár, Quantization Noise (from memory).
 * *Check* 0.02 K of noise on steps of 0.0625 K: 2.6 mK (computed).
 */
function ditherOf(reading: Float64Array, std: number, step: number) {
  if (!(step > 0) || std > surelyDithers * step) return { coarse: false, ripple: 0 }
  const size = Math.min(leastDither(reading, step), Math.sqrt(Math.max(0, (std / step) ** 2 - 1 / 12)))
  if (size < leastSize) return { coarse: true, ripple: 0 }
  return { coarse: false, ripple: (step / Math.PI) * Math.exp(-2 * (Math.PI * size) ** 2) }
}

/** Step from both neighbours above which a reading is a spike; none without noise. */
export function spikeLimit({ std, step }: SampleNoise): number {
  return Math.max(12 * std, 4 * step) || Number.POSITIVE_INFINITY
}

/** Variance of an average of readings, including quantization error. */
export function varianceOfMean({ std, step, coarse, ripple }: SampleNoise, readings: number): number {
  const rounding = step ** 2 / 12
  // A coarse converter's error does not average out.
  return std ** 2 / readings + (coarse ? rounding : rounding / readings + ripple ** 2 / 2)
}

/**
 * Estimates noise from differences of neighbours and the converter's step from the smallest gap between readings.
 *
 * Differences larger than eight times their median size are spikes and do not count. Long columns are thinned evenly to
 * about 20,000 readings.
 *
 * @param reading samples in time order, any length
 * @param statedStep resolution of the system file, or null
 * @param elsewhere further readings of the same channel: where all of these are equal, only the further ones show
 * a step
 * @returns in the reading's unit: standard deviation of one reading about its neighbours; smallest step between different
 * readings (one converter count), 0 when none is visible; number of different readings, counted up to 1,000
 * *Source* docs/method.md section 2, noise: one step over √12 holds only when the noise is at least half a step.
 */
export function sampleNoise(
  reading: Float64Array,
  statedStep: number | null = null,
  elsewhere: Float64Array | null = null,
) {
  const seen = new Set<number>()
  const stride = Math.max(1, Math.floor(reading.length / 20_000))
  const differences = new Float64Array(Math.ceil(reading.length / stride))
  let count = 0
  for (let i = 0; i < reading.length; i += stride) {
    const value = reading[i]
    if (Number.isNaN(value)) continue
    if (seen.size < 1000) seen.add(value)
    if (i > 0 && !Number.isNaN(reading[i - 1])) differences[count++] = value - reading[i - 1]
  }
  const sizes = new Float64Array(count)
  for (let i = 0; i < count; i++) sizes[i] = Math.abs(differences[i])
  const median = count > 0 ? nthSmallest(sizes, count >> 1) : 0
  const largest = count > 0 ? nthSmallest(sizes, Math.min(count - 1, Math.floor(count * 0.98))) : 0
  const limit = Math.max(8 * median, largest * 1.0001)
  let squares = 0
  let kept = 0
  for (let i = 0; i < count; i++) {
    const d = differences[i]
    if (Math.abs(d) > limit) continue
    squares += d * d
    kept++
  }
  const std = kept > 0 ? Math.sqrt(squares / kept / 2) : 0
  const step =
    statedStep ?? (seen.size === 1 && elsewhere ? smallestStep(codesOf(elsewhere)) : smallestStep(seen))
  return { std, step, codes: seen.size, ...ditherOf(reading, std, step) }
}

export type SampleNoise = Readonly<ReturnType<typeof sampleNoise>>

function codesOf(readings: Float64Array): Set<number> {
  const codes = new Set<number>()
  for (const reading of readings) if (codes.size < 1000 && Number.isFinite(reading)) codes.add(reading)
  return codes
}

/** Smallest gap between different readings that is a real step and not the rounding of text or doubles. */
function smallestStep(seen: ReadonlySet<number>): number {
  const values = Float64Array.from(seen).sort()
  if (values.length < 2 || values.length >= 1000) return 0
  const gaps: number[] = []
  for (let i = 1; i < values.length; i++) gaps.push(values[i] - values[i - 1])
  gaps.sort((a, b) => a - b)
  const typical = gaps[gaps.length >> 1]
  const real = gaps.find((gap) => gap > typical * 0.02)
  return real ?? 0
}

/** Each end of a hold may be half a step off, and a sticking code adds half a step. */
const mostSteps = 1.5
/**
 * Maximum error that a ripple of amplitude 1 causes in a line fit, root mean square over its phase: at two thirds of a wave
 * over the line's length (computed).
 */
const rippleInLine = 1.85

/**
 * Quantization uncertainty of the drop in the stated hold time, one standard deviation, [Pa].
 *
 * Noise too small to dither the steps leaves the reading constant while the pressure falls by up to a step; averaging does
 * not help. The hard bound is then 1.5 steps over the time held, used as the half width of a rectangle. With dither, a
 * ripple remains.
 *
 * @param noise of the gauge over the hold, in pascals
 * @param heldS time held, [s]
 * @param statedS stated hold time, [s]
 * *Source* docs/method.md section 2, noise; JCGM 100:2008 4.3.7 for the rectangle.
 * *Check* a coarse step of 100 Pa over the stated time: 150 Pa/√3 = 86.6 Pa (computed).
 */
export function coarseStepPa({ coarse, step, ripple }: SampleNoise, heldS: number, statedS: number): number {
  return (coarse ? (mostSteps * step) / Math.sqrt(3) : rippleInLine * ripple) * (statedS / heldS)
}

/** Readings per window: few enough for a linear change, enough for meaningful shares of codes. */
const together = 40
/** Number of windows, spread over all readings. */
const mostWindows = 40
/** Trial noise sizes, over a step. */
const sizes = [0.04, 0.07, 0.1, 0.125, 0.15, 0.175, 0.2, 0.225, 0.25, 0.275, 0.3, 0.33, 0.37, 0.42, 0.5, 0.6]
/** Trial positions of the quantity per step, and the maximum distance from a code. */
const places = 16
const reach = 8
/** Share of readings that are spikes, and the number of codes they spread over. Own figure, conservative. */
const spikeShare = 0.004
const spikeCodes = 8
/** A size whose log-likelihood is further below the best is rejected: one-sided 97.5 %. */
const believable = 1.92
/** A quantity that moves faster than this, in steps a window, gives no information about the noise. */
const fastest = 2

/**
 * The least noise that explains the observed codes, over a step: the lower end of its profile likelihood.
 *
 * Scatter alone does not determine it: near the edge between two codes, minimal noise toggles the reading. The frequency
 * of a third code determines it, with the quantity's position in each window free.
 *
 * @param reading samples in time order; NaN is left out
 * @param step converter's step, > 0
 */
function leastDither(reading: Float64Array, step: number): number {
  const logLikelihood = new Float64Array(sizes.length)
  const most = new Float64Array(sizes.length)
  const at = new Int32Array(together)
  const stride = Math.max(together, Math.floor((reading.length - together) / mostWindows))
  for (let from = together; from + 2 * together <= reading.length; from += stride) {
    const { slope, middle } = lineOver(reading, from - together, from + 2 * together, step)
    if (!(Math.abs(slope) * together < fastest)) continue
    let count = 0
    for (let i = from; i < from + together; i++) {
      const apart = reading[i] / step - middle - slope * (i - from - together / 2)
      if (!Number.isNaN(apart))
        at[count++] = Math.round(Math.min(reach - 1, Math.max(1 - reach, apart)) * places)
    }
    for (const [k, size] of sizes.entries()) {
      const table = logShares(size)
      most[k] = Number.NEGATIVE_INFINITY
      for (let start = -places / 2; start <= places / 2; start++) {
        let sum = 0
        for (let i = 0; i < count; i++) sum += table[at[i] - start + reach * places]
        if (sum > most[k]) most[k] = sum
      }
    }
    // Two adjacent codes fit small noise as well as large: the quantity may be at the edge.
    if (Math.round(rangeOf(reading.subarray(from, from + together)) / step) < 2)
      for (let k = sizes.length - 2; k >= 0; k--) most[k] = Math.max(most[k], most[k + 1])
    for (let k = 0; k < sizes.length; k++) logLikelihood[k] += most[k]
  }
  const best = Math.max(...logLikelihood)
  return sizes[logLikelihood.findIndex((each) => each >= best - believable)]
}

/** Log of the share of readings whose code is at a given distance from the quantity, in sixteenths of a step. */
const logShares = memoize((size: number) =>
  Float64Array.from({ length: 2 * reach * places + 1 }, (_, k) => {
    const apart = k / places - reach
    const share = normalCdf((apart + 0.5) / size) - normalCdf((apart - 0.5) / size)
    return Math.log((1 - spikeShare) * share + spikeShare / spikeCodes)
  }),
)

/** Slope and middle of a straight line through readings, in steps. */
function lineOver(
  reading: Float64Array,
  from: number,
  to: number,
  step: number,
): { slope: number; middle: number } {
  const half = (from + to - 1) / 2
  let [count, sum, products, squares] = [0, 0, 0, 0]
  for (let i = from; i < to; i++) {
    const value = reading[i] / step
    if (Number.isNaN(value)) continue
    count++
    sum += value
    products += (i - half) * value
    squares += (i - half) ** 2
  }
  return { slope: products / squares, middle: sum / count }
}
