const INVERSE_SQRT_2PI = 0.3989422804014327
const INVERSE_SQRT_PI = 0.5641895835477563

/** Half-width of a 95 % interval of a normal distribution, in standard deviations: z(0.975). */
export const z95 = 1.959963984540054

/** Standard normal density. */
export function normalDensity(z: number): number {
  return INVERSE_SQRT_2PI * Math.exp(-0.5 * z * z)
}

/**
 * Standard normal distribution function; the lower tail keeps its relative accuracy.
 *
 * Source: [cody-1969], rational approximations of the error function
 * Check: Φ(1.96) = 0.975002104851780 (computed with mpmath)
 */
export function normalCdf(z: number): number {
  if (Number.isNaN(z)) throw new RangeError('normalCdf needs a number')
  const x = Math.abs(z) * Math.SQRT1_2
  if (x <= middle.upTo) return 0.5 + 0.5 * z * Math.SQRT1_2 * ratio(middle, x * x)
  const tail = 0.5 * Math.exp(-0.5 * z * z) * (x <= flank.upTo ? ratio(flank, x) : farTail(x))
  return z < 0 ? tail : 1 - tail
}

/** erfc(x)·exp(x²) for large x, by its expansion in 1/x². */
function farTail(x: number): number {
  const inverse = 1 / (x * x)
  return (INVERSE_SQRT_PI - inverse * ratio(far, inverse)) / x
}

/** A ratio of two polynomials, coefficients from the highest power down. */
interface Ratio {
  readonly over: readonly number[]
  readonly under: readonly number[]
}

// Coefficients of Cody's approximations: erf(x)/x in x², erfc(x)·exp(x²) in x, and the rest of its expansion in 1/x².
const middle = {
  upTo: 0.46875,
  over: [0.18577770618460315, 3.1611237438705655, 113.86415415105016, 377.485237685302, 3209.3775891384694],
  under: [1, 23.601290952344122, 244.02463793444417, 1282.6165260773723, 2844.236833439171],
}
const flank = {
  upTo: 4,
  over: [
    2.1531153547440383e-8, 0.5641884969886701, 8.883149794388377, 66.11919063714163, 298.6351381974001,
    881.952221241769, 1712.0476126340707, 2051.0783778260716, 1230.3393547979972,
  ],
  under: [
    1, 15.744926110709835, 117.6939508913125, 537.1811018620099, 1621.3895745666903, 3290.7992357334597,
    4362.619090143247, 3439.3676741437216, 1230.3393548037495,
  ],
}
const far = {
  over: [
    0.016315387137302097, 0.30532663496123236, 0.36034489994980445, 0.12578172611122926, 0.016083785148742275,
    0.0006587491615298378,
  ],
  under: [
    1, 2.568520192289822, 1.8729528499234673, 0.5279051029514285, 0.06051834131244132, 0.0023352049762686918,
  ],
}

function ratio({ over, under }: Ratio, x: number): number {
  let top = over[0]
  let bottom = under[0]
  for (let k = 1; k < over.length; k++) {
    top = top * x + over[k]
    bottom = bottom * x + under[k]
  }
  return top / bottom
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
