import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { shortEstimate } from '#dashboard/server/session/running-hold.ts'

describe('shortEstimate(estimate)', () => {
  it('keeps six digits, bounds outwards', () => {
    expect(shortEstimate({ value: 206.8427188, low: -12.3456781, high: 689.4757293 })).toEqual({
      value: 206.843,
      low: -12.3457,
      high: 689.476,
    })
    expect(shortEstimate({ value: 0, low: 1.0000001, high: 9.9999999 })).toEqual({
      value: 0,
      low: 1,
      high: 10,
    })
  })

  it('leaves a bound that is not yet known as it is', () => {
    const open = { value: 3, low: Number.NEGATIVE_INFINITY, high: Number.POSITIVE_INFINITY }
    expect(shortEstimate(open)).toEqual(open)
  })

  it('never narrows an interval, and widens it by a hundred-thousandth of a bound at most', () => {
    const number = fc.double({ min: -1e9, max: 1e9, noNaN: true })
    fc.assert(
      fc.property(number, number, (a, b) => {
        const [low, high] = a < b ? [a, b] : [b, a]
        const short = shortEstimate({ value: low, low, high })
        expect(short.low).toBeLessThanOrEqual(low)
        expect(short.high).toBeGreaterThanOrEqual(high)
        expect(low - short.low).toBeLessThanOrEqual(Math.abs(low) * 1.1e-5)
        expect(short.high - high).toBeLessThanOrEqual(Math.abs(high) * 1.1e-5)
      }),
    )
  })
})
