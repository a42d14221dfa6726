import { incompleteBeta } from './incomplete-beta.ts'
import { normalCdf, normalQuantile } from './normal-distribution.ts'
import { deviance, stirlingError } from './stirling-error.ts'

function checkDegrees(degreesOfFreedom: number): void {
  if (!(degreesOfFreedom > 0)) throw new RangeError('Student t needs degrees of freedom above zero')
}

/** Density of Student's t. */
export function studentTDensity(t: number, degreesOfFreedom: number): number {
  checkDegrees(degreesOfFreedom)
  const nu = degreesOfFreedom
  if (nu === Number.POSITIVE_INFINITY) return Math.exp(-0.5 * t * t) / Math.sqrt(2 * Math.PI)
  const front = -deviance(nu / 2, (nu + 1) / 2) + stirlingError((nu + 1) / 2) - stirlingError(nu / 2)
  const ratio = (t * t) / nu
  const kernel = -0.5 * (nu + 1) * Math.log1p(ratio)
  return Math.exp(front + kernel) / Math.sqrt(2 * Math.PI)
}

/**
 * Probability that Student's t exceeds a value: the tail itself, so that small ones keep their digits.
 *
 * @param t value
 * @param degreesOfFreedom > 0, need not be whole; infinite gives the normal tail
 */
export function studentTUpperTail(t: number, degreesOfFreedom: number): number {
  checkDegrees(degreesOfFreedom)
  if (Number.isNaN(t)) throw new RangeError('Student t needs a number')
  if (t < 0) return 1 - studentTUpperTail(-t, degreesOfFreedom)
  if (t === Number.POSITIVE_INFINITY) return 0
  if (degreesOfFreedom === Number.POSITIVE_INFINITY) return normalCdf(-t)
  const square = t * t
  const x = degreesOfFreedom / (degreesOfFreedom + square)
  const rest = square / (degreesOfFreedom + square)
  return 0.5 * incompleteBeta(x, degreesOfFreedom / 2, 0.5, rest)
}

/**
 * Distribution function of Student's t.
 *
 * Source: [dlmf] 8.17 through I_x(ν/2, ½), x = ν/(ν + t²)
 * Check: F(2.228138852, 10) = 0.975 (computed with mpmath)
 */
export function studentTCdf(t: number, degreesOfFreedom: number): number {
  return t < 0 ? studentTUpperTail(-t, degreesOfFreedom) : 1 - studentTUpperTail(t, degreesOfFreedom)
}

/**
 * Quantile of Student's t.
 *
 * Newton steps on the logarithm of the tail, kept inside a bracket.
 *
 * @param p probability, 0 to 1
 * @param degreesOfFreedom > 0, need not be whole
 * Check: t(0.975, 10) = 2.22813885198627 (computed with mpmath)
 */
export function studentTQuantile(p: number, degreesOfFreedom: number): number {
  checkDegrees(degreesOfFreedom)
  if (!(p >= 0 && p <= 1)) throw new RangeError('a quantile needs 0 ≤ p ≤ 1')
  if (p < 0.5) return p === 0 ? Number.NEGATIVE_INFINITY : upperPoint(p, degreesOfFreedom) * -1
  if (p === 0.5) return 0
  return p === 1 ? Number.POSITIVE_INFINITY : upperPoint(1 - p, degreesOfFreedom)
}

function upperPoint(tail: number, degreesOfFreedom: number): number {
  if (degreesOfFreedom === Number.POSITIVE_INFINITY) return -normalQuantile(tail)
  let low = 0
  let high = Math.max(1, -normalQuantile(tail))
  while (studentTUpperTail(high, degreesOfFreedom) > tail) {
    low = high
    high *= 2
    if (!Number.isFinite(high)) return high
  }
  let t = 0.5 * (low + high)
  for (let i = 0; i < 200; i++) {
    const area = studentTUpperTail(t, degreesOfFreedom)
    if (area > tail) low = t
    else high = t
    // d ln(tail)/d ln(t) = −t f(t)/tail: straight for heavy tails
    const slope = (t * studentTDensity(t, degreesOfFreedom)) / area
    const next = t * Math.exp(Math.log(area / tail) / slope)
    const inside = next > low && next < high
    const moved = inside ? next : 0.5 * (low + high)
    if (Math.abs(moved - t) <= 1e-15 * t) return moved
    t = moved
  }
  return t
}
