import { describe, expect, test } from 'vitest'
import { driftFilter, driftFilteredSums } from '#analysis/fit/drift-filter.ts'
import { factorLower, logDeterminant, solveLower } from '#analysis/numeric/cholesky.ts'

const stepS = Float64Array.of(0, 1, 1.5, 2, 4, 4, 4)
const variance = Float64Array.of(1, 0.8, 0.7, 0.5, 0.3, 0.2, 0.25)
const extraWalk = Float64Array.of(0, 0.3, 0.1, 0, 0.2, 0, 0.05)
const columns = [0, 1, 2, 3, 4].map((power) => stepS.map((_, i) => (i / 3 - 1) ** power + 0.1 * power))

/** The same with the whole covariance: white noise on the diagonal, and what the walk gained up to the earlier of two rows. */
function dense(of: readonly Float64Array[], whiteScale: number, walkPerS: number) {
  const n = stepS.length
  const factor = new Float64Array(n * n)
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      let walked = 0
      for (let k = 1; k <= j; k++) walked += walkPerS * stepS[k] + extraWalk[k]
      factor[i * n + j] = walked + (i === j ? whiteScale * variance[i] : 0)
    }
  factorLower(factor, n)
  const white = of.map((column) => solveLower(factor, n, column, new Float64Array(n)))
  const sums = white.flatMap((a, r) =>
    white.slice(0, r + 1).map((b) => a.reduce((sum, x, i) => sum + x * b[i], 0)),
  )
  return { sums, determinant: logDeterminant(factor, n) }
}

describe('driftFilteredSums equals generalized least squares with the whole covariance', () => {
  test.each([
    [1, 1, 0.02],
    [2, 2.5, 0],
    [4, 1, 3],
    [5, 8, 0.4],
  ])('driftFilteredSums() of %i columns, white noise × %d, a walk of %d a second', (count, white, walk) => {
    const own = columns.slice(0, count)
    const sums = new Float64Array(count * count).fill(7)
    const filter = driftFilter(stepS, variance, white, walk, extraWalk)
    driftFilteredSums(own, filter, sums)
    const expected = dense(own, white, walk)
    expect(filter.logDeterminant).toBeCloseTo(expected.determinant, 12)
    const lower = own.flatMap((_, r) => [...sums.subarray(r * count, r * count + r + 1)])
    for (const [i, sum] of lower.entries()) expect(sum).toBeCloseTo(expected.sums[i], 11)
  })
})
