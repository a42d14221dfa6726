/** y = mean(y) + slope·(x − mean(x)), by least squares. */
export interface StraightLine {
  readonly slope: number
  readonly meanX: number
  readonly meanY: number
  /** Standard uncertainty of the slope for scatter that is independent and equal: seldom true of a gauge. */
  readonly stdSlope: number
  /** Standard deviation of the scatter about the line, divisor n − 2. */
  readonly stdResidual: number
}

/**
 * Straight line through points, in two passes over the columns and no memory beside them.
 *
 * @param x not all equal
 * @param y as many
 * @throws RangeError for fewer than three points, or columns of different length
 * Check: [nist-strd] Norris
 */
export function straightLine(x: Float64Array, y: Float64Array): StraightLine {
  const n = x.length
  if (y.length !== n) throw new RangeError(`${n} places for ${y.length} values`)
  if (n < 3) throw new RangeError('a straight line with an uncertainty takes three points')
  const meanX = quickMean(x)
  const meanY = quickMean(y)
  let xx = 0
  let xy = 0
  let yy = 0
  for (let i = 0; i < n; i++) {
    const dx = x[i] - meanX
    const dy = y[i] - meanY
    xx += dx * dx
    xy += dx * dy
    yy += dy * dy
  }
  const slope = xy / xx
  const stdResidual = Math.sqrt(Math.max(0, yy - slope * xy) / (n - 2))
  return { slope, meanX, meanY, stdSlope: stdResidual / Math.sqrt(xx), stdResidual }
}

/** Mean about the first value; four sums side by side, since a single one waits for its own last addition. */
function quickMean(values: Float64Array): number {
  const n = values.length
  const origin = values[0]
  let a = 0
  let b = 0
  let c = 0
  let d = 0
  let i = 0
  for (; i + 3 < n; i += 4) {
    a += values[i] - origin
    b += values[i + 1] - origin
    c += values[i + 2] - origin
    d += values[i + 3] - origin
  }
  for (; i < n; i++) a += values[i] - origin
  return origin + (a + b + (c + d)) / n
}
