import { describe, expect, it } from 'vitest'
import {
  cholesky,
  inverseFromCholesky,
  logDeterminant,
  solveCholesky,
  solveLower,
} from '#analysis/numeric/cholesky.ts'

const matrix = [Float64Array.of(4, 12, -16), Float64Array.of(12, 37, -43), Float64Array.of(-16, -43, 98)]

describe('cholesky: a textbook matrix with a whole-number factor (4 12 −16; 12 37 −43; −16 −43 98)', () => {
  const factor = cholesky(matrix)!
  it('cholesky gives 2; 6 1; −8 5 3 exactly', () => {
    expect(factor.map((row) => [...row])).toEqual([
      [2, 0, 0],
      [6, 1, 0],
      [-8, 5, 3],
    ])
  })
  it('logDeterminant is ln 36', () => expect(logDeterminant(factor)).toBeCloseTo(Math.log(36), 14))
  it('solveCholesky undoes the product', () => {
    // A·(1, 2, 3) = (−20, −43, 192)
    const solution = solveCholesky(factor, [-20, -43, 192])
    expect(solution[0]).toBeCloseTo(1, 12)
    expect(solution[1]).toBeCloseTo(2, 12)
    expect(solution[2]).toBeCloseTo(3, 12)
  })
  it('solveLower solves the factor alone', () => {
    expect([...solveLower(factor, [2, 7, 0])]).toEqual([1, 1, 1])
  })
  it('inverseFromCholesky times the matrix is the identity', () => {
    const inverse = inverseFromCholesky(factor)
    for (let i = 0; i < 3; i++) {
      for (let j = 0; j < 3; j++) {
        let product = 0
        for (let k = 0; k < 3; k++) product += matrix[i][k] * inverse[k][j]
        expect(product).toBeCloseTo(i === j ? 1 : 0, 10)
      }
    }
  })
})

describe('cholesky: refuses', () => {
  it('a matrix that is not positive definite gives null', () => {
    expect(cholesky([Float64Array.of(1, 2), Float64Array.of(2, 1)])).toBeNull()
    expect(cholesky([Float64Array.of(Number.NaN)])).toBeNull()
  })
})
