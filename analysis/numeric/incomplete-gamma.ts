import { deviance, stirlingError } from './stirling-error.ts'

/** x^a e^−x / Γ(a), by the saddle point. */
function powerOverGamma(a: number, x: number): number {
  return Math.exp(-stirlingError(a) - deviance(a, x)) * Math.sqrt(a / (2 * Math.PI))
}

function lowerSeries(a: number, x: number): number {
  let term = 1 / a
  let total = term
  for (let k = 1; k < 100_000; k++) {
    term *= x / (a + k)
    total += term
    if (term < total * 1e-17) break
  }
  return powerOverGamma(a, x) * total
}

function upperFraction(a: number, x: number): number {
  const tiny = 1e-300
  let b = x + 1 - a
  let c = 1 / tiny
  let d = 1 / b
  let fraction = d
  for (let k = 1; k < 100_000; k++) {
    const numerator = -k * (k - a)
    b += 2
    d = numerator * d + b
    if (Math.abs(d) < tiny) d = tiny
    c = b + numerator / c
    if (Math.abs(c) < tiny) c = tiny
    d = 1 / d
    const step = d * c
    fraction *= step
    if (Math.abs(step - 1) < 2e-16) break
  }
  return powerOverGamma(a, x) * fraction
}

/**
 * Regularised incomplete gamma functions, both tails, each to full relative accuracy.
 *
 * @param a parameter, > 0
 * @param x end of the integral, ≥ 0
 * @returns lower = P(a, x), upper = Q(a, x)
 * Source: [dlmf] 8.11.4 (series), 8.9.2 (continued fraction)
 */
export function incompleteGamma(a: number, x: number): { readonly lower: number; readonly upper: number } {
  if (!(a > 0)) throw new RangeError('incompleteGamma needs a parameter above zero')
  if (!(x >= 0)) throw new RangeError('incompleteGamma needs x ≥ 0')
  if (x === 0) return { lower: 0, upper: 1 }
  if (x === Number.POSITIVE_INFINITY) return { lower: 1, upper: 0 }
  if (x < a + 1) {
    const lower = lowerSeries(a, x)
    return { lower, upper: 1 - lower }
  }
  const upper = upperFraction(a, x)
  return { lower: 1 - upper, upper }
}
