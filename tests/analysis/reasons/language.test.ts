import { describe, expect, it } from 'vitest'
import { inDigits } from '#analysis/reasons/language.ts'

describe('inDigits', () => {
  it('inDigits(value) is Intl.NumberFormat of English, from 1e-30 to 1e30 and at the values that are no number', () => {
    const intl = new Intl.NumberFormat('en', { maximumFractionDigits: 20, useGrouping: false })
    const powers = Array.from({ length: 61 }, (_, k) => (1 + k / 7) * 10 ** (k - 30))
    for (const value of [...powers, ...powers.map((x) => -x), 0, -0, 10, Number.NaN, 1 / 0, -1 / 0])
      expect(inDigits(value)).toBe(intl.format(value + 0))
  })

  it('inDigits(value, decimals) has that many decimals, and no sign at zero', () => {
    expect([inDigits(2.345, 1), inDigits(7, 2), inDigits(-0.01, 1), inDigits(-1.25, 1)]).toEqual([
      '2.3',
      '7.00',
      '0.0',
      (-1.25).toFixed(1),
    ])
  })
})
