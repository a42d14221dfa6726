import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { findRoot } from '#analysis/numeric/find-root.ts'
import { minimize } from '#analysis/numeric/minimize.ts'

describe('findRoot', () => {
  it('findRoot of x² − 2 between 0 and 2 is √2 to the last digit', () => {
    expect(findRoot((x) => x * x - 2, 0, 2)).toBeCloseTo(Math.SQRT2, 15)
  })
  it('findRoot of cos x − x is 0.7390851332151607 (computed)', () => {
    expect(findRoot((x) => Math.cos(x) - x, 0, 1)).toBeCloseTo(0.7390851332151607, 15)
  })
  it('findRoot of a steep and flat cubic power finds its root', () => {
    expect(findRoot((x) => (x - 0.3) ** 9, -4, 5, 1e-9)).toBeCloseTo(0.3, 2)
  })
  it('findRoot finds any root of a rising cubic', () => {
    fc.assert(
      fc.property(fc.double({ min: -50, max: 50, noNaN: true }), (root) => {
        const found = findRoot((x) => x ** 3 + x - (root ** 3 + root), -60, 70)
        return Math.abs(found - root) < 1e-12 * Math.max(1, Math.abs(root))
      }),
    )
  })
  it('findRoot refuses a bracket without a change of sign', () => {
    expect(() => findRoot((x) => x * x + 1, -1, 1)).toThrow(RangeError)
    expect(() => findRoot(() => Number.NaN, -1, 1)).toThrow(RangeError)
  })
})

describe('minimize', () => {
  it('minimize of (x − 2)² + 1 is 1 at 2', () => {
    const minimum = minimize((x) => (x - 2) ** 2 + 1, -10, 10)
    expect(minimum.x).toBeCloseTo(2, 6)
    expect(minimum.value).toBeCloseTo(1, 12)
    expect(minimum.converged).toBe(true)
  })
  it('minimize of x ln x is −1/e at 1/e (exact)', () => {
    const minimum = minimize((x) => x * Math.log(x), 0.01, 3, 1e-10)
    expect(minimum.x).toBeCloseTo(1 / Math.E, 6)
    expect(minimum.value).toBeCloseTo(-1 / Math.E, 12)
  })
  it('minimize of a falling function ends at the upper end', () => {
    expect(minimize((x) => -x, 0, 1).x).toBeCloseTo(1, 6)
  })
  it('minimize refuses an empty interval', () => {
    expect(() => minimize((x) => x, 1, 1)).toThrow(RangeError)
  })
})
