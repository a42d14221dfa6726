import { expect, it } from 'vitest'
import { tempered } from '#analysis/fit/tempered.ts'

const of = Uint8Array.of(0, 0, 1, 1)
const beliefs = [{ weight: 0.8 }, { weight: 0.2 }, { weight: 0 }]
/** Weights that the data have spoken on: 0.9 of the second belief, which was thought to be 0.2. */
const weight = Float64Array.of(0.04, 0.06, 0.3, 0.6)
const shareOf = (weights: Float64Array) => (weights[2] + weights[3]) / weights.reduce((sum, w) => sum + w, 0)

it('with a whole voice nothing changes, with none the beliefs stand as before the data', () => {
  expect(shareOf(tempered(weight, of, beliefs, 1))).toBeCloseTo(0.9, 12)
  expect(shareOf(tempered(weight, of, beliefs, 0))).toBeCloseTo(0.2, 12)
})

it('with half a voice the odds that the data add are the root of what they were (computed)', () => {
  // 36 times the odds of before become 6 times: ¼ · 6 = 1.5 to 1.
  expect(shareOf(tempered(weight, of, beliefs, 0.5))).toBeCloseTo(0.6, 12)
})

it('within a belief the weights keep their shares', () => {
  const [first, second] = tempered(weight, of, beliefs, 0.3)
  expect(second / first).toBeCloseTo(1.5, 12)
})
