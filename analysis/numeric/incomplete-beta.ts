import { deviance, stirlingError } from './stirling-error.ts'

const MAX_TERMS = 200_000

/** x^a (1−x)^b / B(a,b), by the saddle point so that large a or b cost no digits. */
function powerOverBeta(x: number, rest: number, a: number, b: number): number {
  const n = a + b
  const exponent =
    stirlingError(n) - stirlingError(a) - stirlingError(b) - deviance(a, n * x) - deviance(b, n * rest)
  // Γ(n+1)/(Γ(a+1)Γ(b+1)) x^a (1−x)^b, times ab/n
  return Math.exp(exponent) * Math.sqrt((a * b) / (2 * Math.PI * n))
}

/** Continued fraction of the incomplete beta function by the modified Lentz method. */
function continuedFraction(x: number, a: number, b: number): number {
  const tiny = 1e-300
  let c = 1
  let d = 1 - ((a + b) * x) / (a + 1)
  d = 1 / (Math.abs(d) < tiny ? tiny : d)
  let fraction = d
  for (let m = 1; m <= MAX_TERMS; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m))
    d = 1 + even * d
    c = 1 + even / c
    d = 1 / (Math.abs(d) < tiny ? tiny : d)
    if (Math.abs(c) < tiny) c = tiny
    fraction *= d * c
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1))
    d = 1 + odd * d
    c = 1 + odd / c
    d = 1 / (Math.abs(d) < tiny ? tiny : d)
    if (Math.abs(c) < tiny) c = tiny
    const step = d * c
    fraction *= step
    if (Math.abs(step - 1) < 2e-16) return fraction
  }
  return fraction
}

/**
 * Regularised incomplete beta function I_x(a, b).
 *
 * @param x upper end of the integral, 0 to 1
 * @param a first parameter, > 0
 * @param b second parameter, > 0
 * @param rest 1 − x, given apart where the caller knows it to more digits than the subtraction leaves
 * Source: [dlmf] 8.17.22, prefactor after [loader-2000]
 */
export function incompleteBeta(x: number, a: number, b: number, rest = 1 - x): number {
  if (!(a > 0 && b > 0)) throw new RangeError('incompleteBeta needs parameters above zero')
  if (!(x >= 0 && x <= 1)) throw new RangeError('incompleteBeta needs 0 ≤ x ≤ 1')
  if (x === 0) return 0
  if (rest === 0) return 1
  const front = powerOverBeta(x, rest, a, b)
  return x < (a + 1) / (a + b + 2)
    ? (front * continuedFraction(x, a, b)) / a
    : 1 - (front * continuedFraction(rest, b, a)) / b
}
