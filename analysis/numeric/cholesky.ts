/** A symmetric matrix by rows. */
export type SymmetricMatrix = readonly Float64Array[]

/**
 * Cholesky factor L of a positive definite matrix, A = L Lᵀ.
 *
 * @param matrix by rows; only the lower triangle is read
 * @returns the lower factor by rows, null when the matrix is not positive definite
 */
export function cholesky(matrix: SymmetricMatrix): Float64Array[] | null {
  const size = matrix.length
  const factor = Array.from({ length: size }, () => new Float64Array(size))
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let rest = matrix[i][j]
      for (let k = 0; k < j; k++) rest -= factor[i][k] * factor[j][k]
      if (i === j) {
        if (!(rest > 0)) return null
        factor[i][i] = Math.sqrt(rest)
      } else {
        factor[i][j] = rest / factor[j][j]
      }
    }
  }
  return factor
}

/** Solves L x = b. */
export function solveLower(factor: readonly Float64Array[], right: ArrayLike<number>): Float64Array {
  const solution = Float64Array.from(right)
  for (let i = 0; i < solution.length; i++) {
    for (let k = 0; k < i; k++) solution[i] -= factor[i][k] * solution[k]
    solution[i] /= factor[i][i]
  }
  return solution
}

/** Solves L Lᵀ x = b. */
export function solveCholesky(factor: readonly Float64Array[], right: ArrayLike<number>): Float64Array {
  const solution = solveLower(factor, right)
  for (let i = solution.length - 1; i >= 0; i--) {
    for (let k = i + 1; k < solution.length; k++) solution[i] -= factor[k][i] * solution[k]
    solution[i] /= factor[i][i]
  }
  return solution
}

/** Inverse of L Lᵀ by rows. */
export function inverseFromCholesky(factor: readonly Float64Array[]): Float64Array[] {
  return factor.map((_, j) => {
    const unit = new Float64Array(factor.length)
    unit[j] = 1
    return solveCholesky(factor, unit)
  })
}

/** ln det of L Lᵀ. */
export function logDeterminant(factor: readonly Float64Array[]): number {
  let total = 0
  for (let i = 0; i < factor.length; i++) total += 2 * Math.log(factor[i][i])
  return total
}
