/**
 * Root of a continuous function between two points of opposite sign, by Brent's method: never slower than bisection,
 * mostly far quicker, and deterministic.
 *
 * @param f function
 * @param a one end of the bracket
 * @param b other end, f(a)·f(b) ≤ 0
 * @param tolerance half width of the final bracket, absolute; rounding is added to it
 * @throws RangeError when the ends have the same sign or are not numbers
 *
 * Source: [brent-1973] chapter 4
 */
export function findRoot(f: (x: number) => number, a: number, b: number, tolerance = 0): number {
  let low = a
  let best = b
  let fLow = f(low)
  let fBest = f(best)
  if (!(fLow * fBest <= 0)) throw new RangeError('findRoot needs ends of opposite sign')
  let other = low
  let fOther = fLow
  let step = best - low
  let previousStep = step
  for (let i = 0; i < 500; i++) {
    if (Math.abs(fOther) < Math.abs(fBest)) {
      low = best
      best = other
      other = low
      fLow = fBest
      fBest = fOther
      fOther = fLow
    }
    const close = 2 * Number.EPSILON * Math.abs(best) + 0.5 * tolerance
    const half = 0.5 * (other - best)
    if (Math.abs(half) <= close || fBest === 0) return best
    if (Math.abs(previousStep) >= close && Math.abs(fLow) > Math.abs(fBest)) {
      const s = fBest / fLow
      let p: number
      let q: number
      if (low === other) {
        p = 2 * half * s
        q = 1 - s
      } else {
        const u = fLow / fOther
        const v = fBest / fOther
        p = s * (2 * half * u * (u - v) - (best - low) * (v - 1))
        q = (u - 1) * (v - 1) * (s - 1)
      }
      if (p > 0) q = -q
      p = Math.abs(p)
      if (2 * p < Math.min(3 * half * q - Math.abs(close * q), Math.abs(previousStep * q))) {
        previousStep = step
        step = p / q
      } else {
        step = half
        previousStep = half
      }
    } else {
      step = half
      previousStep = half
    }
    low = best
    fLow = fBest
    best += Math.abs(step) > close ? step : Math.sign(half) * close
    fBest = f(best)
    if (fBest > 0 === fOther > 0) {
      other = low
      fOther = fLow
      step = best - low
      previousStep = step
    }
  }
  return best
}
