/**
 * Normal equations of a regression whose noise is white noise plus a random walk.
 *
 * A scalar Kalman filter runs over every column, so that the cost is linear in the number of rows; the innovations it
 * leaves are independent, and their cross products are the generalised-least-squares sums.
 *
 * @param columns regressors followed by the response, each of length n
 * @param stepS time between row i and row i−1, [s], n; the first is not used
 * @param whiteVariance variance of the white part of each row, n
 * @param walkPerS variance the random walk gains each second
 * @param extraWalk variance the walk gains besides on the way to each row, n
 * @param sums out: symmetric k×k cross products, row-major, lower triangle filled
 * @returns log-determinant of the noise covariance
 *
 * *Source* Kalman 1960; equality with the dense GLS solution is tested.
 */
export function driftFilteredSums(
  columns: readonly Float64Array[],
  stepS: Float64Array,
  whiteVariance: Float64Array,
  whiteScale: number,
  walkPerS: number,
  extraWalk: Float64Array,
  sums: Float64Array,
): number {
  const k = columns.length
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
  const white = new Float64Array(k * n)
  for (let c = 0; c < k; c++) {
    const column = columns[c]
    let level = 0
    for (let i = 0; i < n; i++) {
      const innovation = column[i] - level
      white[c * n + i] = innovation * perStd[i]
      level += gain[i] * innovation
    }
  }
  crossProducts(white, k, n, sums)
  return logDeterminant
}

/** Scalar products of k columns of n that lie one after another, two by two: what is read serves four sums. */
function crossProducts(columns: Float64Array, k: number, n: number, sums: Float64Array): void {
  for (let r = 0; r < k; r += 2) {
    const nextRow = r + 1 < k ? n : 0
    for (let c = 0; c <= r; c += 2) {
      const nextColumn = c + 1 < k ? n : 0
      let sum = 0
      let right = 0
      let below = 0
      let across = 0
      for (let i = r * n, j = c * n; i < (r + 1) * n; i++, j++) {
        const first = columns[i]
        const second = columns[i + nextRow]
        sum += first * columns[j]
        right += first * columns[j + nextColumn]
        below += second * columns[j]
        across += second * columns[j + nextColumn]
      }
      sums[r * k + c] = sum
      if (c < r) sums[r * k + c + 1] = right
      if (r + 1 < k) {
        sums[(r + 1) * k + c] = below
        sums[(r + 1) * k + c + 1] = across
      }
    }
  }
}
