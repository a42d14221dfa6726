import { nthSmallest } from '#analysis/numeric/order-statistics.ts'
import { leastDither } from './dither.ts'

/** Scatter and step of a channel's readings. */
export interface SampleNoise {
  /** Standard deviation of one reading about its neighbours, in the reading's unit. */
  readonly std: number
  /** Smallest step between different readings (one converter count), in the reading's unit; 0 when none is visible. */
  readonly step: number
  /** Number of different readings seen, counted up to 1,000. */
  readonly codes: number
  /** True where the noise is too small to dither the converter's steps, so that averaging does not help. */
  readonly coarse: boolean
  /**
   * Amplitude of the quantization error in an average, a sine wave over the step, in the reading's unit; 0 at coarse
   * steps, where the error is not sinusoidal.
   */
  readonly ripple: number
}

/** Noise below this share of a step does not dither it; scatter above the other, over a step, surely does. */
const leastSize = 0.15
const surelyDithers = 1

/**
 * Quantization error of a converter in an average of noisy readings.
 *
 * Noise σ dithers a step q: the mean error is (q/π)·e^(−2π²σ²/q²)·sin(2πx/q), with σ² ≤ std² − q²/12.
 *
 * *Source* first harmonic of the error of a dithered quantizer, Widrow & Kollár, Quantization Noise (from memory).
 * *Check* 0.02 K of noise on steps of 0.0625 K: 2.6 mK (computed).
 */
function ditherOf(reading: Float64Array, std: number, step: number): Pick<SampleNoise, 'coarse' | 'ripple'> {
  if (!(step > 0) || std > surelyDithers * step) return { coarse: false, ripple: 0 }
  const size = Math.min(leastDither(reading, step), Math.sqrt(Math.max(0, (std / step) ** 2 - 1 / 12)))
  if (size < leastSize) return { coarse: true, ripple: 0 }
  return { coarse: false, ripple: (step / Math.PI) * Math.exp(-2 * (Math.PI * size) ** 2) }
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
 * *Source* docs/method.md section 2, noise: one step over √12 holds only when the noise is at least half a step.
 */
export function sampleNoise(
  reading: Float64Array,
  statedStep: number | null = null,
  elsewhere: Float64Array | null = null,
): SampleNoise {
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
