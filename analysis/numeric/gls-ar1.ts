import { type LeastSquaresFit, leastSquares } from './least-squares.ts'

/**
 * Exact generalised least squares when each error is correlated with the one before it: every row is reduced by what the
 * previous row already told (Prais–Winsten, the first row kept) and the rest is ordinary least squares.
 *
 * Rows may lie at uneven times: give the correlation with the previous row for each. `residualStd` is the standard
 * deviation of the errors themselves, not of the innovations.
 *
 * @param columns regressors, one column each
 * @param y observations
 * @param correlation one number for all neighbours, or one per row (the first is not used), −1 < φ < 1
 * @returns null when the columns depend on each other; residuals are those of the reduced rows
 *
 * Source: [prais-winsten-1954]
 * Check: φ = ½, t = 0…4, y = 0, 2, 3, 7, 8 gives slope 53/26 with standard error 11/26 (computed, rational)
 */
export function generalizedLeastSquaresAr1(
  columns: readonly Float64Array[],
  y: Float64Array,
  correlation: number | Float64Array,
): LeastSquaresFit | null {
  const phi = typeof correlation === 'number' ? new Float64Array(y.length).fill(correlation) : correlation
  if (phi.length !== y.length) throw new RangeError('one correlation per row is needed')
  const reduce = (column: Float64Array): Float64Array =>
    column.map((value, i) => {
      if (i === 0) return value
      if (!(Math.abs(phi[i]) < 1)) throw new RangeError('a correlation lies between −1 and 1')
      return (value - phi[i] * column[i - 1]) / Math.sqrt(1 - phi[i] * phi[i])
    })
  return leastSquares(columns.map(reduce), reduce(y))
}
