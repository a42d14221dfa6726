// A symmetric n×n matrix is stored by rows in one array and solved in place, since a fit solves a thousand of them.

/**
 * Replaces the lower triangle of a positive definite matrix by its Cholesky factor L, A = L·Lᵀ.
 *
 * @param matrix by rows; the upper triangle is neither read nor written
 * @param stride from one row to the next, more than n to use only the first n rows and columns
 * @returns false when the matrix is not positive definite; its content is then undefined
 */
export function factorLower(matrix: Float64Array, n: number, stride = n): boolean {
  for (let r = 0, row = 0; r < n; r++, row += stride) {
    for (let c = 0, above = 0; c <= r; c++, above += stride) {
      let sum = matrix[row + c]
      for (let k = 0; k < c; k++) sum -= matrix[row + k] * matrix[above + k]
      if (r === c) {
        if (!(sum > 0)) return false
        matrix[row + r] = Math.sqrt(sum)
      } else matrix[row + c] = sum / matrix[above + c]
    }
  }
  return true
}

/**
 * Solves L·x = b.
 *
 * @param x receives the solution; it may be `b` itself
 * @param from first row where `b` is not zero: earlier rows are skipped
 */
export function solveLower(
  factor: Float64Array,
  n: number,
  b: Float64Array,
  x: Float64Array,
  from = 0,
): Float64Array {
  x.fill(0, 0, from)
  for (let r = from, row = from * n; r < n; r++, row += n) {
    let sum = b[r]
    for (let k = from; k < r; k++) sum -= factor[row + k] * x[k]
    x[r] = sum / factor[row + r]
  }
  return x
}

/** Solves Lᵀ·x = b; `x` receives the solution and may be `b` itself. */
export function solveUpper(factor: Float64Array, n: number, b: Float64Array, x: Float64Array): Float64Array {
  for (let r = n - 1; r >= 0; r--) {
    let sum = b[r]
    for (let k = r + 1; k < n; k++) sum -= factor[k * n + r] * x[k]
    x[r] = sum / factor[r * n + r]
  }
  return x
}

/** ln det of L·Lᵀ. */
export function logDeterminant(factor: Float64Array, n: number): number {
  let total = 0
  for (let i = 0; i < n; i++) total += 2 * Math.log(factor[i * n + i])
  return total
}
