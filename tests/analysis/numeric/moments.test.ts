import { mean, sampleStandardDeviation } from 'simple-statistics'
import { describe, expect, it } from 'vitest'
import { lagOneCorrelation, mean as plainMean } from '#analysis/numeric/moments.ts'
import { significantDigits } from './significant-digits.ts'

/** NumAcc2 to NumAcc4: one center value, then 500 pairs below and above it. */
function pairs(center: number, below: number, above: number): number[] {
  return [center, ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? below : above))]
}

describe('mean, sampleStandardDeviation, lagOneCorrelation: NIST StRD certified values', () => {
  const sets: readonly [string, number[], mean: number, std: number, lag: number, digits: number][] = [
    ['NumAcc1', [10000001, 10000003, 10000002], 10000002, 1, -0.5, 15],
    ['NumAcc2', pairs(1.2, 1.1, 1.3), 1.2, 0.1, -0.999, 13],
    ['NumAcc3', pairs(1000000.2, 1000000.1, 1000000.3), 1000000.2, 0.1, -0.999, 9],
    // the inputs themselves are not exact in doubles: 8.25 digits is all they hold
    ['NumAcc4', pairs(10000000.2, 10000000.1, 10000000.3), 10000000.2, 0.1, -0.999, 8.2],
  ]
  for (const [name, values, center, std, lag, digits] of sets) {
    it(`mean and sampleStandardDeviation on ${name} agree to at least ${digits} digits`, () => {
      expect(significantDigits(mean(values), center)).toBeGreaterThanOrEqual(14)
      expect(significantDigits(sampleStandardDeviation(values), std)).toBeGreaterThanOrEqual(digits)
      expect(significantDigits(lagOneCorrelation(values), lag)).toBeGreaterThanOrEqual(digits)
    })
  }
})

describe('moments: laws', () => {
  it('mean keeps what plain addition loses', () => {
    expect(mean([1e16, 1, -1e16])).toBe(1 / 3)
    expect(mean(new Array(1_000_000).fill(0.1))).toBe(0.1)
  })
  it('mean of nothing and sampleStandardDeviation of one throw', () => {
    expect(() => mean([])).toThrow()
    expect(() => sampleStandardDeviation([1])).toThrow()
  })
  it('the plain mean of 1, 2 and 6 is 3 (by hand), and that of nothing is no number', () => {
    expect(plainMean([1, 2, 6])).toBe(3)
    expect(plainMean([])).toBeNaN()
  })
  it('lagOneCorrelation of equal values is 0', () => expect(lagOneCorrelation([2, 2, 2])).toBe(0))
})
