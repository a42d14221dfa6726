import type { SampleNoise } from './sample-noise.ts'

/** The readings at the two ends of a hold may lie half a step off each, and half a step more for a code that sticks. */
const mostSteps = 1.5
/**
 * Most that a ripple of amplitude 1 bends a straight line through it, root mean square over its phase: two thirds of a wave over
 * the line's length (computed).
 */
const rippleInLine = 1.85

/**
 * What the steps of a converter may hide of the drop in the stated hold time, one standard deviation, [Pa].
 *
 * Where the noise is too small to dither them the reading stands still while the pressure falls by up to a step, and no number of
 * readings averages that out: 1.5 steps over the time held are a hard bound, taken as the half width of a rectangle. Where it
 * dithers them a ripple is left.
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
