import { mean } from '#analysis/signal/sample-slice.ts'
import type { NoiseSize, ShapeColumns } from './gas-shape.ts'

/**
 * What is added to the log-density of a response that was made as late as a thermometer in the gas shows it. As far as the
 * scatter is the thermometer's, the density is that of its reading, which the response shows through stiffness and gain. As far
 * as it is not, being made late has smoothed it, which must not be taken for a good fit: some of its squares are then missing.
 */
export function thermometerDensity(
  { thermal, variance, extraWalk, shape }: ShapeColumns,
  { whiteScale, walkPerS }: NoiseSize,
  stepS: Float64Array,
): number {
  if (thermal === null) return 0
  const white = whiteScale * mean(variance)
  const total = white + walkingVariance(walkPerS * mean(stepS) + mean(extraWalk), white)
  const share = (whiteScale * thermal.variance) / total
  const missing = 1 - whiteLeft(mean(stepS) / shape.lagS)
  return variance.length * (share * thermal.logSlope - 0.5 * (1 - share) * missing)
}

/**
 * Share of the variance of white noise that a first-order lag leaves which goes straight from one value to the next.
 *
 * @param steps time from value to value, over the time constant
 * *Source* y_i = e·y_(i−1) + k·x_i + m·x_(i−1), e = exp(−steps), k = 1 − (1 − e)/steps, m = 1 − k − e, of variance
 * (k² + m² + 2kme)/(1 − e²).
 */
export function whiteLeft(steps: number): number {
  const kept = Math.exp(-steps)
  const newest = 1 + Math.expm1(-steps) / steps
  const before = 1 - newest - kept
  return (newest ** 2 + before ** 2 + 2 * newest * before * kept) / -Math.expm1(-2 * steps)
}

/** Variance of a level that walks, just before it is seen through white noise, once that has settled. */
function walkingVariance(walk: number, white: number): number {
  return (walk + Math.sqrt(walk * (walk + 4 * white))) / 2
}

/**
 * The random walk of the pressure that stands behind the one that a response shows which was made as late as a thermometer: what
 * goes quicker than the lag is smoothed away, where it would have been seen through the white noise.
 *
 * *Source* variance of what a first-order lag leaves of a walk's steps, q·dt/(2τ) of q (computed), and as far as the filter
 * that sees it is quicker than the lag.
 */
export function walkBehind(
  { thermal, variance, shape }: ShapeColumns,
  { whiteScale, walkPerS }: NoiseSize,
  stepS: Float64Array,
): number {
  if (thermal === null || walkPerS === 0) return walkPerS
  const step = mean(stepS)
  const white = whiteScale * mean(variance)
  const level = walkingVariance(walkPerS * step, white)
  const seenWithinS = (step * (level + white)) / level
  return walkPerS * Math.max(1, Math.min((2 * shape.lagS) / step, 1 + (shape.lagS / seenWithinS) ** 2))
}
