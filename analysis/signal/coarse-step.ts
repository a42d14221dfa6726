import type { SampleNoise } from './sample-noise.ts'

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
