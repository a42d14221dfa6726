import type { Estimate } from '#analysis/model/hold-result.ts'

/** Standard errors that bound a 95 % interval. */
const z95 = 1.959963984540054
/** Nobody holds for longer than this many stated times, or this long, to decide one verdict. */
const mostTimes = 8
const longestS = 6 * 3600

/** How the variance of a leak rate goes down as a hold goes on; all parts at the time already held. */
export interface ShrinkingVariance {
  /** White noise of the readings: falls with the third power of the time. */
  readonly white: number
  /** Random walk of the sensor: falls with the time. */
  readonly walk: number
  /** What time does not shrink: unknown weather, volume, the leak law. */
  readonly lasting: number
  /** All of it; what is in none of the parts (heat, creep, temperature) falls with the time. */
  readonly whole: number
}

/** Variance after another time, the temperature going on as it did. */
function varianceAfter(variance: ShrinkingVariance, times: number): number {
  const { white, walk, lasting, whole } = variance
  const fixed = Math.min(lasting, 0.9 * whole)
  const known = Math.min(white + walk, whole - fixed)
  const scale = white + walk > 0 ? known / (white + walk) : 0
  const rest = whole - fixed - known
  return fixed + (scale * white) / times ** 3 + (scale * walk) / times + rest / times
}

/**
 * How much longer a hold would have to last for its interval to leave the allowance, if the leak is as it seems.
 *
 * @param heldS time held so far, [s]
 * @returns seconds, rounded up to ten; null when no reasonable time would do
 */
export function secondsMore(
  judged: Estimate,
  allowed: number,
  variance: ShrinkingVariance,
  heldS: number,
  statedS: number,
): number | null {
  const room = Math.abs(judged.value - allowed)
  const mostS = Math.min(longestS, mostTimes * statedS)
  for (let times = 1.02; heldS * times <= mostS; times *= 1.02) {
    if (z95 * Math.sqrt(varianceAfter(variance, times)) < room)
      return Math.ceil((heldS * (times - 1)) / 10) * 10
  }
  return null
}
