/** How a level that walks at random is followed through white noise: the same for every column of a regression. */
export interface DriftFilter {
  /** Share of each innovation that the level takes over. */
  readonly gain: Float64Array
  /** One over the standard deviation of each innovation. */
  readonly perStd: Float64Array
  /** Log-determinant of the noise covariance. */
  readonly logDeterminant: number
}

/**
 * The scalar Kalman filter of noise that is white noise plus a random walk.
 *
 * @param stepS time between row i and row i−1, [s], n; the first is not used
 * @param whiteVariance variance of the white part of each row, n
 * @param walkPerS variance the random walk gains each second
 * @param extraWalk variance the walk gains besides on the way to each row, n
 *
 * *Source* Kalman 1960.
 */
export function driftFilter(
  stepS: Float64Array,
  whiteVariance: Float64Array,
  whiteScale: number,
  walkPerS: number,
  extraWalk: Float64Array,
): DriftFilter {
  const n = stepS.length
  const gain = new Float64Array(n)
  const perStd = new Float64Array(n)
  let levelVariance = 0
  let logDeterminant = 0
  for (let i = 0; i < n; i++) {
    if (i > 0) levelVariance += walkPerS * stepS[i] + extraWalk[i]
    const total = levelVariance + whiteScale * whiteVariance[i]
    gain[i] = levelVariance / total
    perStd[i] = 1 / Math.sqrt(total)
    logDeterminant += Math.log(total)
    levelVariance *= 1 - gain[i]
  }
  return { gain, perStd, logDeterminant }
}

/**
 * Normal equations of a regression whose noise a filter follows.
 *
 * The filter runs over every column, so that the cost is linear in the number of rows; the innovations it leaves are
 * independent, and their cross products are the generalised-least-squares sums.
 *
 * @param columns regressors followed by the response, each of length n
 * @param sums out: symmetric k×k cross products, row-major, lower triangle filled
 *
 * *Source* equality with the dense GLS solution is tested.
 */
export function driftFilteredSums(
  columns: readonly Float64Array[],
  filter: DriftFilter,
  sums: Float64Array,
): void {
  const k = columns.length
  const n = filter.gain.length
  const width = 3 * Math.ceil(k / 3)
  if (scratch.length <= n * width) scratch = new Float64Array(n * width + 1)
  const innovations = scratch
  for (let c = 0; c < width; c += 3) whitenThree(columns, filter, c, innovations, width)
  for (let r = 0; r < k; r += 3)
    for (let c = 0; c < Math.min(k, r + 3); c += 2) multiply(innovations, n * width, width, r, c, sums, k)
}

// Three columns are filtered, and three times two multiplied, at a time: a sum that waits for itself alone takes three times
// as long. Innovations lie row after row, padded to threes; what the padding makes of them is not kept.
let scratch = new Float64Array(0)

/** Innovations of three columns from c on, over their standard deviation. */
function whitenThree(
  columns: readonly Float64Array[],
  { gain, perStd }: DriftFilter,
  c: number,
  innovations: Float64Array,
  width: number,
): void {
  const last = columns.length - 1
  const first = columns[c]
  const second = columns[Math.min(last, c + 1)]
  const third = columns[Math.min(last, c + 2)]
  let a = 0
  let b = 0
  let d = 0
  for (let i = 0, at = c; i < gain.length; i++, at += width) {
    const x = first[i] - a
    const y = second[i] - b
    const z = third[i] - d
    innovations[at] = x * perStd[i]
    innovations[at + 1] = y * perStd[i]
    innovations[at + 2] = z * perStd[i]
    a += gain[i] * x
    b += gain[i] * y
    d += gain[i] * z
  }
}

/** Scalar products of three columns from r on with two from c on. */
function multiply(
  innovations: Float64Array,
  end: number,
  width: number,
  r: number,
  c: number,
  sums: Float64Array,
  k: number,
): void {
  let s00 = 0
  let s01 = 0
  let s10 = 0
  let s11 = 0
  let s20 = 0
  let s21 = 0
  for (let i = r, j = c; i < end; i += width, j += width) {
    const left = innovations[j]
    const right = innovations[j + 1]
    const top = innovations[i]
    const middle = innovations[i + 1]
    const bottom = innovations[i + 2]
    s00 += top * left
    s01 += top * right
    s10 += middle * left
    s11 += middle * right
    s20 += bottom * left
    s21 += bottom * right
  }
  const two = c + 1 < k
  sums[r * k + c] = s00
  if (two) sums[r * k + c + 1] = s01
  if (r + 1 >= k) return
  sums[(r + 1) * k + c] = s10
  if (two) sums[(r + 1) * k + c + 1] = s11
  if (r + 2 >= k) return
  sums[(r + 2) * k + c] = s20
  if (two) sums[(r + 2) * k + c + 1] = s21
}
