import { describe, expect, it } from 'vitest'
import { factorLower, logDeterminant, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'

describe('factorLower: a textbook matrix with a whole-number factor (4 12 −16; 12 37 −43; −16 −43 98)', () => {
  const factor = Float64Array.of(4, 12, -16, 12, 37, -43, -16, -43, 98)
  const isDefinite = factorLower(factor, 3)
  it('factorLower gives 2; 6 1; −8 5 3 exactly, and leaves what is above alone', () => {
    expect(isDefinite).toBe(true)
    expect([...factor]).toEqual([2, 12, -16, 6, 1, -43, -8, 5, 3])
  })
  it('logDeterminant is ln 36', () => expect(logDeterminant(factor, 3)).toBeCloseTo(Math.log(36), 14))
  it('solveUpper after solveLower undoes the product, in place', () => {
    // A·(1, 2, 3) = (−20, −43, 192)
    const x = Float64Array.of(-20, -43, 192)
    solveUpper(factor, 3, solveLower(factor, 3, x, x), x)
    expect(x[0]).toBeCloseTo(1, 12)
    expect(x[1]).toBeCloseTo(2, 12)
    expect(x[2]).toBeCloseTo(3, 12)
  })
  it('solveLower solves the factor alone', () => {
    expect([...solveLower(factor, 3, Float64Array.of(2, 7, 0), new Float64Array(3))]).toEqual([1, 1, 1])
  })
  it('solveLower from the first row that is not zero gives the same, whatever stood in x', () => {
    const b = Float64Array.of(0, 3, 4)
    const whole = solveLower(factor, 3, b, new Float64Array(3))
    expect([...solveLower(factor, 3, b, Float64Array.of(7, 7, 7), 1)]).toEqual([...whole])
  })
})

describe('factorLower: refuses', () => {
  it('a matrix that is not positive definite gives false', () => {
    expect(factorLower(Float64Array.of(1, 2, 2, 1), 2)).toBe(false)
    expect(factorLower(Float64Array.of(Number.NaN), 1)).toBe(false)
  })
})
