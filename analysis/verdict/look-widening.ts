import { anytimeMultiplier, anytimeRatio } from '#analysis/numeric/anytime-interval.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'

/** Approximate degrees of freedom of a hold's noise: its blocks less the fitted parameters. */
const degreesOfFreedom = 100
/** Largest widening; a look with it decides nothing. */
const widestLook = 25
/** Share of the stated time where the interval is tuned narrowest: a quiet hold is decided at about this time. Own figure. */
const tunedTo = 0.4
/** A hold shorter than this share of its stated time counts as ended by a look. */
const cutShort = 0.95

/**
 * Factor on the half-width of a 95 % interval that makes it valid at all looks of a running hold together.
 *
 * Information about a rate is assumed to grow with the square of the time: between a random walk (first power) and white
 * noise (third power).
 *
 * @param elapsedS of the hold so far, [s]
 * @param statedS its stated time, [s]
 * @returns 1.90 at 15 % of the stated time, 1.58 at four tenths of it, 1.66 at its end; at most `widestLook`
 * *Source* [lindon-2022]. *Check* r = 1/9 at four tenths of the stated time: 3.10 standard errors instead of 1.96 (computed).
 */
function lookWidening(elapsedS: number, statedS: number): number {
  const ratio = anytimeRatio(Math.max(1e-6, elapsedS / statedS) ** 2, tunedTo ** 2)
  return Math.min(widestLook, anytimeMultiplier(degreesOfFreedom, ratio, 0.05) / z95)
}

/** Widening of the verdict's interval for a look at a running hold or an end before its stated time. */
export function wideningOf(live: boolean, elapsedS: number, statedS: number): number {
  return live || elapsedS < cutShort * statedS ? lookWidening(elapsedS, statedS) : 1
}
