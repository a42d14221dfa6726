const GOLDEN = 0.3819660112501051

export interface Minimum {
  readonly x: number
  readonly value: number
  /** False when the iterations ran out before the bracket closed. */
  readonly converged: boolean
}

/**
 * Minimum of a function of one variable in an interval, by Brent's parabolic and golden steps.
 *
 * @param f function, with one minimum in the interval (with several, one of them is found)
 * @param a lower end
 * @param b upper end, > a
 * @param tolerance width of the final bracket, absolute
 * @throws RangeError when the interval is empty
 *
 * Source: [brent-1973] chapter 5
 */
export function minimize(f: (x: number) => number, a: number, b: number, tolerance = 1e-8): Minimum {
  if (!(b > a)) throw new RangeError('minimize needs an interval with a < b')
  let low = a
  let high = b
  let x = low + GOLDEN * (high - low)
  let second = x
  let third = x
  let fx = f(x)
  let fSecond = fx
  let fThird = fx
  let step = 0
  let previousStep = 0
  for (let i = 0; i < 500; i++) {
    const middle = 0.5 * (low + high)
    const close = 1.5e-8 * Math.abs(x) + tolerance / 3
    if (Math.abs(x - middle) <= 2 * close - 0.5 * (high - low)) return { x, value: fx, converged: true }
    let golden = true
    if (Math.abs(previousStep) > close) {
      const r = (x - second) * (fx - fThird)
      const t = (x - third) * (fx - fSecond)
      const denominator = 2 * (t - r)
      const p = Math.sign(denominator) * ((x - third) * t - (x - second) * r)
      const q = Math.abs(denominator)
      if (Math.abs(p) < Math.abs(0.5 * q * previousStep) && -p > q * (low - x) && -p < q * (high - x)) {
        previousStep = step
        step = -p / q
        const next = x + step
        if (next - low < 2 * close || high - next < 2 * close) step = x < middle ? close : -close
        golden = false
      }
    }
    if (golden) {
      previousStep = (x < middle ? high : low) - x
      step = GOLDEN * previousStep
    }
    const next = x + (Math.abs(step) >= close ? step : Math.sign(step) * close)
    const fNext = f(next)
    if (fNext <= fx) {
      if (next < x) high = x
      else low = x
      third = second
      fThird = fSecond
      second = x
      fSecond = fx
      x = next
      fx = fNext
    } else {
      if (next < x) low = next
      else high = next
      if (fNext <= fSecond || second === x) {
        third = second
        fThird = fSecond
        second = next
        fSecond = fNext
      } else if (fNext <= fThird || third === x || third === second) {
        third = next
        fThird = fNext
      }
    }
  }
  return { x, value: fx, converged: false }
}
