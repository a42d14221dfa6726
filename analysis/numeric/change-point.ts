import { fUpperTail } from './f-distribution.ts'

export interface ChangePoint {
  /** Number of values before the change. */
  readonly index: number
  readonly residualSumOfSquaresBefore: number
  readonly residualSumOfSquaresAfter: number
  /** F ratio of the one change against none, (RSS₀ − RSS₁)(n − p)/RSS₁. */
  readonly f: number
  /** Upper bound of the chance of so large an F without a change: the best of all places was taken (Bonferroni). */
  readonly chance: number
}

function changePoint(
  index: number,
  before: number,
  after: number,
  places: number,
  freedom: number,
): ChangePoint {
  const f = after > 0 ? ((before - after) * freedom) / after : Number.POSITIVE_INFINITY
  const single = f === Number.POSITIVE_INFINITY ? 0 : fUpperTail(f, 1, freedom)
  return {
    index,
    residualSumOfSquaresBefore: before,
    residualSumOfSquaresAfter: after,
    f,
    chance: Math.min(1, single * places),
  }
}

/**
 * The one place where the mean changes, by least squares over every place.
 *
 * @param values equally uncertain, uncorrelated
 * @param smallest fewest values on either side
 * @returns null when there are fewer than two sides' worth of values
 *
 * Source: [bai-perron-1998] for one break
 * Check: [nile]: after observation 28, RSS 2835156.75 → 1597457.194, F 75.9298
 */
export function meanChange(values: Float64Array, smallest = 1): ChangePoint | null {
  const n = values.length
  if (smallest < 1 || n < 2 * smallest || n < 3) return null
  let center = 0
  for (const value of values) center += value / n
  let before = 0
  for (const value of values) before += (value - center) ** 2
  let best = { index: smallest, gain: -1 }
  let left = 0
  for (let k = 1; k <= n - smallest; k++) {
    left += values[k - 1] - center
    if (k < smallest) continue
    // with the overall mean taken out, a split explains S²(1/k + 1/(n−k))
    const gain = left * left * (1 / k + 1 / (n - k))
    if (gain > best.gain) best = { index: k, gain }
  }
  return changePoint(best.index, before, Math.max(0, before - best.gain), n - 2 * smallest + 1, n - 2)
}

/**
 * The one place where a straight line bends (continuous, with another slope after it), by least squares over every place.
 *
 * @param timeS times, ascending, [s]
 * @param values as many, equally uncertain, uncorrelated
 * @param smallest fewest values on either side, at least 2
 * @returns null when there are too few values
 */
export function slopeChange(timeS: Float64Array, values: Float64Array, smallest = 2): ChangePoint | null {
  const n = values.length
  if (timeS.length !== n) throw new RangeError('slopeChange needs as many times as values')
  if (smallest < 2 || n < 2 * smallest || n < 4) return null
  let meanT = 0
  let meanY = 0
  for (let i = 0; i < n; i++) {
    meanT += timeS[i] / n
    meanY += values[i] / n
  }
  let sxx = 0
  let sxy = 0
  let syy = 0
  for (let i = 0; i < n; i++) {
    const x = timeS[i] - meanT
    const y = values[i] - meanY
    sxx += x * x
    sxy += x * y
    syy += y * y
  }
  const before = syy - (sxy * sxy) / sxx
  // sums over the part after the bend, grown from the end
  let count = 0
  let x1 = 0
  let x2 = 0
  let y1 = 0
  let xy = 0
  let best = { index: smallest, gain: -1 }
  for (let k = n - 1; k >= smallest; k--) {
    const x = timeS[k] - meanT
    const y = values[k] - meanY
    count++
    x1 += x
    x2 += x * x
    y1 += y
    xy += x * y
    if (count < smallest) continue
    // hinge h = max(0, x − bend), projected off the constant and the line
    const bend = timeS[k - 1] - meanT
    const h1 = x1 - bend * count
    const h2 = x2 - 2 * bend * x1 + bend * bend * count
    const hx = x2 - bend * x1
    const hy = xy - bend * y1
    const length = h2 - (h1 * h1) / n - (hx * hx) / sxx
    const along = hy - (hx * sxy) / sxx
    if (length <= 1e-12 * h2) continue
    const gain = (along * along) / length
    if (gain > best.gain) best = { index: k, gain }
  }
  if (best.gain < 0) return null
  return changePoint(best.index, before, Math.max(0, before - best.gain), n - 2 * smallest + 1, n - 3)
}
