import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { nthSmallest } from '#analysis/numeric/order-statistics.ts'

describe('nthSmallest', () => {
  it('is what sorting puts at the place, for any values with many alike', () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.integer({ min: 0, max: 5 }), fc.double({ noNaN: true })), { minLength: 1 }),
        fc.nat(),
        (values, at) => {
          const place = at % values.length
          const sorted = Float64Array.from(values).sort()
          expect(nthSmallest(Float64Array.from(values), place) - sorted[place] || 0).toBe(0)
        },
      ),
    )
  })

  it('refuses a place outside the values, and none at all', () => {
    expect(() => nthSmallest(Float64Array.of(1, 2), 2)).toThrow(RangeError)
    expect(() => nthSmallest(Float64Array.of(1, 2), -1)).toThrow(RangeError)
    expect(() => nthSmallest(new Float64Array(0), 0)).toThrow(RangeError)
  })
})
