/**
 * Normal equations of a regression whose noise is white noise plus a random walk.
 *
 * A scalar Kalman filter runs over all columns at once, so that the cost is linear in the number of rows;
 * the innovations it leaves are independent, and their cross products are the generalised-least-squares sums.
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
  const level = new Float64Array(k)
  const innovation = new Float64Array(k)
  sums.fill(0)
  let levelVariance = 0
  let logDeterminant = 0
  for (let i = 0; i < n; i++) {
    if (i > 0) levelVariance += walkPerS * stepS[i] + extraWalk[i]
    const total = levelVariance + whiteScale * whiteVariance[i]
    const gain = levelVariance / total
    const weight = 1 / total
    logDeterminant += Math.log(total)
    for (let c = 0; c < k; c++) {
      const e = columns[c][i] - level[c]
      innovation[c] = e
      level[c] += gain * e
    }
    for (let r = 0; r < k; r++) {
      const er = innovation[r] * weight
      const row = r * k
      for (let c = 0; c <= r; c++) sums[row + c] += er * innovation[c]
    }
    levelVariance *= 1 - gain
  }
  return logDeterminant
}
