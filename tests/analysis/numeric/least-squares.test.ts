import { describe, expect, it } from 'vitest'
import { leastSquares } from '#analysis/numeric/least-squares.ts'
import { significantDigits } from './significant-digits.ts'
import { filip, type LinearSet, longley, norris, pontius, wampler1 } from './strd/linear-sets.ts'

function polynomialColumns(x: Float64Array, degree: number): Float64Array[] {
  return Array.from({ length: degree + 1 }, (_, k) => x.map((value) => value ** k))
}

function fitSet(set: LinearSet, degree: number) {
  const y = Float64Array.from(set.rows, (row) => row[0])
  const columns =
    set === longley
      ? [
          new Float64Array(y.length).fill(1),
          ...[1, 2, 3, 4, 5, 6].map((j) => Float64Array.from(set.rows, (row) => row[j])),
        ]
      : polynomialColumns(
          Float64Array.from(set.rows, (row) => row[1]),
          degree,
        )
  return leastSquares(columns, y)!
}

function worst(computed: ArrayLike<number>, certified: readonly number[]): number {
  return Math.min(...certified.map((value, i) => significantDigits(computed[i], value)))
}

describe('leastSquares: NIST StRD certified values', () => {
  const sets: readonly [name: string, set: LinearSet, degree: number, digits: number, stdDigits: number][] = [
    ['Norris', norris, 1, 12, 12],
    ['Pontius', pontius, 2, 12, 12],
    ['Longley', longley, 0, 11, 12],
    ['Wampler1', wampler1, 5, 9, 7],
    ['Filip', filip, 10, 7, 7],
  ]
  for (const [name, set, degree, digits, stdDigits] of sets) {
    it(`leastSquares on ${name} gives the certified coefficients to ${digits} digits`, () => {
      expect(worst(fitSet(set, degree).coefficients, set.coefficients)).toBeGreaterThan(digits)
    })
    it(`leastSquares on ${name} gives the certified standard uncertainties to ${stdDigits} digits`, () => {
      const fit = fitSet(set, degree)
      expect(worst(fit.stdCoefficients, set.std)).toBeGreaterThan(stdDigits)
      expect(significantDigits(fit.residualStd, set.residualStd)).toBeGreaterThan(stdDigits)
    })
  }
})

describe('leastSquares: GUM H.3, calibration of a thermometer (JCGM 100:2008)', () => {
  const reading = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511]
  const correction = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16]
  const fit = leastSquares(
    [new Float64Array(11).fill(1), Float64Array.from(reading, (t) => t - 20)],
    Float64Array.from(correction),
  )!
  it('leastSquares gives y1 = −0.171203790131 with u 0.002877597835', () => {
    expect(fit.coefficients[0]).toBeCloseTo(-0.171203790131, 12)
    expect(fit.stdCoefficients[0]).toBeCloseTo(0.002877597835, 12)
  })
  it('leastSquares gives y2 = 0.00218269774 with u 0.000667938773 and r = −0.930430', () => {
    expect(fit.coefficients[1]).toBeCloseTo(0.00218269774, 11)
    expect(fit.stdCoefficients[1]).toBeCloseTo(0.000667938773, 12)
    const r = fit.covariance[0][1] / (fit.stdCoefficients[0] * fit.stdCoefficients[1])
    expect(r).toBeCloseTo(-0.93043, 6)
  })
  it('the correction at 30 °C is −0.149376813 with u 0.004138595753', () => {
    const variance = fit.covariance[0][0] + 20 * fit.covariance[0][1] + 100 * fit.covariance[1][1]
    expect(fit.coefficients[0] + 10 * fit.coefficients[1]).toBeCloseTo(-0.149376813, 9)
    expect(Math.sqrt(variance)).toBeCloseTo(0.004138595753, 12)
  })
})

describe('leastSquares: laws', () => {
  const x = Float64Array.from({ length: 40 }, (_, i) => i / 7)
  const y = x.map((value, i) => 3 - 2 * value + Math.sin(12.9898 * i) * 0.1)
  const ones = new Float64Array(40).fill(1)
  it('residuals are orthogonal to every column', () => {
    const { residuals } = leastSquares([ones, x], y)!
    expect(residuals.reduce((total, r) => total + r, 0)).toBeCloseTo(0, 13)
    expect(residuals.reduce((total, r, i) => total + r * x[i], 0)).toBeCloseTo(0, 12)
  })
  it('a shift by an epoch of 1.7e9 s changes the slope by less than one part in 1e6', () => {
    const shifted = leastSquares([ones, x.map((value) => value + 1.7e9)], y)!
    expect(shifted.coefficients[1] / leastSquares([ones, x], y)!.coefficients[1]).toBeCloseTo(1, 6)
  })
  it('as many rows as columns leave no degree of freedom and no residual', () => {
    const fit = leastSquares([Float64Array.of(1, 1), Float64Array.of(0, 1)], Float64Array.of(2, 5))!
    expect([...fit.coefficients]).toEqual([2, 3])
    expect(fit.degreesOfFreedom).toBe(0)
    expect(fit.residualStd).toBe(0)
  })
})

describe('leastSquares: refuses', () => {
  it('columns that depend on each other give null, not numbers', () => {
    const a = Float64Array.of(1, 2, 3, 4)
    expect(leastSquares([a, a.map((value) => 2 * value)], Float64Array.of(1, 2, 3, 5))).toBeNull()
  })
  it('fewer rows than columns or uneven lengths are a RangeError', () => {
    expect(() => leastSquares([Float64Array.of(1), Float64Array.of(2)], Float64Array.of(3))).toThrow(
      RangeError,
    )
    expect(() => leastSquares([Float64Array.of(1, 2, 3)], Float64Array.of(3))).toThrow(RangeError)
    expect(() => leastSquares([], Float64Array.of(3))).toThrow(RangeError)
  })
})
