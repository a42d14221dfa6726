import { describe, expect, test } from 'vitest'
import { guardBanded, overallVerdict } from '#analysis/verdict/hold-verdict.ts'

describe('guardBanded (JCGM 106:2012, guard-band rule in outline)', () => {
  test('passes only with the whole interval under the allowance, fails only with it over', () => {
    expect(guardBanded({ value: 5, low: 1, high: 9 }, 10)).toBe('pass')
    expect(guardBanded({ value: 15, low: 11, high: 19 }, 10)).toBe('fail')
    expect(guardBanded({ value: 5, low: 1, high: 11 }, 10)).toBe('undecided')
  })
  test('an interval that just touches the allowance decides nothing', () => {
    expect(guardBanded({ value: 5, low: 1, high: 10 }, 10)).toBe('undecided')
    expect(guardBanded({ value: 15, low: 10, high: 19 }, 10)).toBe('undecided')
  })
  test('an interval without an end never passes', () => {
    expect(guardBanded({ value: 0, low: -Infinity, high: Infinity }, 10)).toBe('undecided')
    expect(guardBanded({ value: Number.NaN, low: Number.NaN, high: Number.NaN }, 10)).toBe('undecided')
  })
})

describe('overallVerdict', () => {
  test('a hold passes only when every section does', () => {
    expect(overallVerdict(['pass', 'pass'], [])).toBe('pass')
    expect(overallVerdict(['pass', 'undecided'], [])).toBe('undecided')
    expect(overallVerdict(['pass', 'void'], [])).toBe('void')
    expect(overallVerdict(['pass', 'fail', 'void'], [])).toBe('fail')
  })
  test('what voids the whole hold outweighs every section', () =>
    expect(overallVerdict(['pass', 'fail'], [{ code: 'clock-jumped', values: { how: 'set' } }])).toBe('void'))
  test('a hold without a measured section proves nothing', () => expect(overallVerdict([], [])).toBe('void'))
})
