import { expect, test } from 'vitest'
import { sideOf } from '#dashboard/web/parts/hold-limits.ts'

test('sideOf() is a pass only when the upper bound is under the allowance', () => {
  expect(sideOf({ value: 10, low: 5, high: 19.9 }, 20).state).toBe('pass')
  expect(sideOf({ value: 10, low: 5, high: 20 }, 20).state).toBe('undecided')
})
test('sideOf() is a fail only when the lower bound is over it', () => {
  expect(sideOf({ value: 30, low: 20.1, high: 40 }, 20).state).toBe('fail')
  expect(sideOf({ value: 30, low: 20, high: 40 }, 20).state).toBe('undecided')
})
test('sideOf() of bounds that came over the wire as null, being infinite, never passes', () => {
  const unbounded = { value: 1, low: null, high: null } as unknown as Parameters<typeof sideOf>[0]
  expect(sideOf(unbounded, 20).state).toBe('undecided')
})
