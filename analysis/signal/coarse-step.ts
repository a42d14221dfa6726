import type { SampleNoise } from './sample-noise.ts'

/** The readings at the two ends of a hold may lie half a step off each, and half a step more for a code that sticks. */
const mostSteps = 1.5

/**
 * What the steps of a coarse converter may hide of the drop in the stated hold time, one standard deviation, [Pa].
 *
 * Where the noise is under half a step the reading stands still while the pressure falls by up to a step, and no number of
 * readings averages that out: 1.5 steps over the time held are a hard bound, taken as the half width of a rectangle.
 *
 * @param noise of the gauge over the hold, in pascals
 * @param heldS time held, [s]
 * @param statedS stated hold time, [s]
 * @returns 0 where the noise blurs the steps
 * *Source* docs/method.md section 2, noise; JCGM 100:2008 4.3.7 for the rectangle.
 * *Check* a step of 100 Pa over the stated time: 150 Pa/√3 = 86.6 Pa (computed).
 */
export function coarseStepPa({ coarse, step }: SampleNoise, heldS: number, statedS: number): number {
  return coarse ? ((mostSteps * step) / Math.sqrt(3)) * (statedS / heldS) : 0
}
