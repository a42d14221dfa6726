import { incompleteGamma } from './incomplete-gamma.ts'

const INVERSE_SQRT_2PI = 0.3989422804014327

/** Standard normal density. */
function normalDensity(z: number): number {
  return INVERSE_SQRT_2PI * Math.exp(-0.5 * z * z)
}

/**
 * Standard normal distribution function; the lower tail keeps its relative accuracy.
 *
 * Source: [dlmf] 7.11.1 (error function as an incomplete gamma function)
 * Check: Φ(1.96) = 0.975002104851780 (computed with mpmath)
 */
export function normalCdf(z: number): number {
  if (Number.isNaN(z)) throw new RangeError('normalCdf needs a number')
  const { lower, upper } = incompleteGamma(0.5, 0.5 * z * z)
  return z < 0 ? 0.5 * upper : 0.5 + 0.5 * lower
}

/**
 * Standard normal quantile.
 *
 * @param p probability, 0 to 1
 * Check: z(0.975) = 1.95996398454005 (computed with mpmath)
 */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError('normalQuantile needs 0 ≤ p ≤ 1')
  if (p === 0) return Number.NEGATIVE_INFINITY
  if (p === 1) return Number.POSITIVE_INFINITY
  if (p === 0.5) return 0
  if (p > 0.5) return -normalQuantile(1 - p)
  // rational start, [abramowitz-stegun] 26.2.23, then Halley on the lower tail
  const s = Math.sqrt(-2 * Math.log(p))
  let z = -(
    s -
    (2.515517 + s * (0.802853 + s * 0.010328)) / (1 + s * (1.432788 + s * (0.189269 + s * 0.001308)))
  )
  for (let i = 0; i < 4; i++) {
    const step = (normalCdf(z) - p) / normalDensity(z)
    if (!Number.isFinite(step)) break
    z -= step / (1 + 0.5 * z * step)
  }
  return z
}
