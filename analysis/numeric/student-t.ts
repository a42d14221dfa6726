import { normalCdf, normalQuantile } from './normal-distribution.ts'

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
 * Upper tail probability of Student's t, computed directly so that small values keep their digits.
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
 * @param rest 1 − x, passed separately where the caller knows it to more digits than the subtraction yields
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

const LN_SQRT_2PI = 0.9189385332046728

/** Lanczos coefficients, g = 607/128, n = 15: relative error below 1e-15 on the positive axis. */
const LANCZOS = [
  0.9999999999999971, 57.15623566586292, -59.59796035547549, 14.136097974741746, -0.4919138160976202,
  3.399464998481189e-5, 4.652362892704858e-5, -9.837447530487956e-5, 0.0001580887032249125,
  -0.00021026444172410488, 0.00021743961811521265, -0.0001643181065367639, 8.441822398385275e-5,
  -2.6190838401581408e-5, 3.6899182659531625e-6,
]

/**
 * Natural logarithm of the gamma function.
 *
 * @param x argument, > 0
 * Source: [lanczos-1964], coefficients as in common use; Stirling's series above 15
 */
export function logGamma(x: number): number {
  if (!(x > 0)) throw new RangeError('logGamma needs an argument above zero')
  if (x < 0.5) return logGamma(x + 1) - Math.log(x)
  if (x > 15) return (x - 0.5) * Math.log(x) - x + LN_SQRT_2PI + stirlingSeries(x)
  let series = LANCZOS[0]
  for (let k = 1; k < LANCZOS.length; k++) series += LANCZOS[k] / (x + k - 1)
  const shifted = x + 607 / 128 - 0.5
  return LN_SQRT_2PI + Math.log(series) - shifted + (x - 0.5) * Math.log(shifted)
}

function stirlingSeries(x: number): number {
  const inverse = 1 / (x * x)
  return (
    (1 / 12 -
      (1 / 360 -
        (1 / 1260 - (1 / 1680 - (1 / 1188 - (691 / 360360 - inverse / 156) * inverse) * inverse) * inverse) *
          inverse) *
        inverse) /
    x
  )
}

/**
 * Error of Stirling's formula for ln Γ(x + 1): ln x! − [½ ln(2πx) + x ln x − x].
 *
 * Differences of log-gammas lose digits for large arguments; this small remainder avoids that.
 *
 * @param x argument, > 0
 * Source: [loader-2000]
 */
function stirlingError(x: number): number {
  if (x > 15) return stirlingSeries(x)
  return logGamma(x + 1) - (x + 0.5) * Math.log(x) + x - LN_SQRT_2PI
}

/**
 * Deviance part x ln(x/m) + m − x without cancellation when x is near m.
 *
 * Source: [loader-2000]
 */
function deviance(x: number, m: number): number {
  const gap = (x - m) / (x + m)
  if (Math.abs(gap) < 0.1) {
    let total = (x - m) * gap
    let term = 2 * x * gap
    for (let j = 1; j < 1000; j++) {
      term *= gap * gap
      const next = total + term / (2 * j + 1)
      if (next === total) return total
      total = next
    }
  }
  return x * Math.log(x / m) + m - x
}
