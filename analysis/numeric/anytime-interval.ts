/**
 * Ratio r that tunes an anytime-valid interval: r = φ/(φ + z²), φ = z²_planned/8.
 *
 * @param information squared length of the regressor after the others are projected out, z², ≥ 0
 * @param plannedInformation the same at the planned end of the hold, > 0: there the interval is narrowest
 * @returns 1 with no information, 1/9 at the planned end
 */
export function anytimeRatio(information: number, plannedInformation: number): number {
  if (!(plannedInformation > 0)) throw new RangeError('anytimeRatio needs planned information above zero')
  const tuning = plannedInformation / 8
  return tuning / (tuning + information)
}

/**
 * Half width of the anytime-valid interval in standard errors: √(ν(1−q)/(q−r)), q = (r α²)^(1/(ν+1)).
 *
 * It replaces the t quantile in estimate ± multiplier · standard error. The interval covers the truth at all looks
 * simultaneously with probability 1 − α.
 *
 * @param degreesOfFreedom ν, > 0
 * @param ratio r of `anytimeRatio`, 0 < r ≤ 1
 * @param alpha error rate over all looks, 0 < α < 1
 * @returns infinity while there is too little information to bound anything
 * Source: [lindon-2022]
 * Check: ν = 20, r = 1/11, α = 0.05 → 3.37067 (computed)
 */
export function anytimeMultiplier(degreesOfFreedom: number, ratio: number, alpha: number): number {
  if (!(degreesOfFreedom > 0)) return Number.POSITIVE_INFINITY
  if (!(ratio > 0 && ratio <= 1)) throw new RangeError('anytimeMultiplier needs 0 < r ≤ 1')
  if (!(alpha > 0 && alpha < 1)) throw new RangeError('anytimeMultiplier needs 0 < α < 1')
  const exponent = (Math.log(ratio) + 2 * Math.log(alpha)) / (degreesOfFreedom + 1)
  const q = Math.exp(exponent)
  if (q <= ratio) return Number.POSITIVE_INFINITY
  return Math.sqrt((degreesOfFreedom * -Math.expm1(exponent)) / (q - ratio))
}
