import { incompleteGamma } from './incomplete-gamma.ts'
import { normalQuantile } from './normal-distribution.ts'

/** Probability that chi-square exceeds a value. */
export function chiSquareUpperTail(x: number, degreesOfFreedom: number): number {
  return x <= 0 ? 1 : incompleteGamma(degreesOfFreedom / 2, x / 2).upper
}

/** Distribution function of chi-square. */
export function chiSquareCdf(x: number, degreesOfFreedom: number): number {
  return x <= 0 ? 0 : incompleteGamma(degreesOfFreedom / 2, x / 2).lower
}

/**
 * Quantile of chi-square, by bisection on a bracket from the Wilson–Hilferty approximation.
 *
 * @param p probability, 0 ≤ p < 1
 * @param degreesOfFreedom > 0
 * Check: χ²(0.95, 10) = 18.3070380532751 (computed with mpmath)
 */
export function chiSquareQuantile(p: number, degreesOfFreedom: number): number {
  if (!(p >= 0 && p < 1)) throw new RangeError('chiSquareQuantile needs 0 ≤ p < 1')
  if (!(degreesOfFreedom > 0)) throw new RangeError('chi-square needs degrees of freedom above zero')
  if (p === 0) return 0
  const spread = 2 / (9 * degreesOfFreedom)
  const start = degreesOfFreedom * Math.max(0.01, 1 - spread + normalQuantile(p) * Math.sqrt(spread)) ** 3
  let low = start
  let high = start
  while (low > 0 && chiSquareCdf(low, degreesOfFreedom) > p) low /= 2
  while (chiSquareCdf(high, degreesOfFreedom) < p) high *= 2
  for (;;) {
    const middle = 0.5 * (low + high)
    if (middle <= low || middle >= high) return middle
    if (chiSquareCdf(middle, degreesOfFreedom) < p) low = middle
    else high = middle
  }
}
