/** y = mean(y) + slope·(x − mean(x)), by least squares. */
export interface StraightLine {
  readonly slope: number
  readonly meanX: number
  readonly meanY: number
  /** Standard uncertainty of the slope for independent scatter of equal variance, seldom true of a gauge. */
  readonly stdSlope: number
  /** Standard deviation of the scatter about the line, divisor n − 2. */
  readonly stdResidual: number
}

/** Block size at which two passes stay in the cache. Up to this size the result equals two passes over all points. */
const blockLength = 16_384

/**
 * Straight line through points: two passes over each block, blocks merged by their means, no extra memory.
 *
 * @param x not all equal
 * @param y same length
 * @throws RangeError for fewer than three points, or columns of different length
 * Check: [nist-strd] Norris
 */
export function straightLine(x: Float64Array, y: Float64Array): StraightLine {
  const n = x.length
  if (y.length !== n) throw new RangeError(`${n} places for ${y.length} values`)
  if (n < 3) throw new RangeError('a straight line with an uncertainty needs three points')
  let meanX = 0
  let meanY = 0
  let xx = 0
  let xy = 0
  let yy = 0
  for (let from = 0; from < n; from += blockLength) {
    const to = Math.min(n, from + blockLength)
    const blockX = quickMean(x, from, to)
    const blockY = quickMean(y, from, to)
    for (let i = from; i < to; i++) {
      const dx = x[i] - blockX
      const dy = y[i] - blockY
      xx += dx * dx
      xy += dx * dy
      yy += dy * dy
    }
    const dx = blockX - meanX
    const dy = blockY - meanY
    const share = (to - from) / to
    xx += dx * dx * from * share
    xy += dx * dy * from * share
    yy += dy * dy * from * share
    meanX += dx * share
    meanY += dy * share
  }
  const slope = xy / xx
  const stdResidual = Math.sqrt(Math.max(0, yy - slope * xy) / (n - 2))
  return { slope, meanX, meanY, stdSlope: stdResidual / Math.sqrt(xx), stdResidual }
}

/** Mean about the first value; four parallel sums, since a single one waits for its own last addition. */
function quickMean(values: Float64Array, from: number, to: number): number {
  const origin = values[from]
  let a = 0
  let b = 0
  let c = 0
  let d = 0
  let i = from
  for (; i + 3 < to; i += 4) {
    a += values[i] - origin
    b += values[i + 1] - origin
    c += values[i + 2] - origin
    d += values[i + 3] - origin
  }
  for (; i < to; i++) a += values[i] - origin
  return origin + (a + b + (c + d)) / (to - from)
}
