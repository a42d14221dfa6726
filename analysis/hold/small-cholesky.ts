/**
 * Replaces the lower triangle of a symmetric positive definite n×n matrix (row-major) by its Cholesky factor, in place.
 * @returns false when the matrix is not positive definite
 */
export function factorLower(matrix: Float64Array, n: number): boolean {
  for (let r = 0; r < n; r++) {
    for (let c = 0; c <= r; c++) {
      let sum = matrix[r * n + c]
      for (let k = 0; k < c; k++) sum -= matrix[r * n + k] * matrix[c * n + k]
      if (r === c) {
        if (!(sum > 0)) return false
        matrix[r * n + r] = Math.sqrt(sum)
      } else matrix[r * n + c] = sum / matrix[c * n + c]
    }
  }
  return true
}

/** Solves L·x = b. */
export function solveLower(factor: Float64Array, n: number, b: Float64Array, x: Float64Array): void {
  for (let r = 0; r < n; r++) {
    let sum = b[r]
    for (let k = 0; k < r; k++) sum -= factor[r * n + k] * x[k]
    x[r] = sum / factor[r * n + r]
  }
}

/** Solves Lᵀ·x = b. */
export function solveUpper(factor: Float64Array, n: number, b: Float64Array, x: Float64Array): void {
  for (let r = n - 1; r >= 0; r--) {
    let sum = b[r]
    for (let k = r + 1; k < n; k++) sum -= factor[k * n + r] * x[k]
    x[r] = sum / factor[r * n + r]
  }
}
