import { expect, test } from 'vitest'
import { huntSimulated } from './simulated-hunt.ts'

test('hunt() on 12 seeded systems of 5 sections names the leaks first in 90 of 100, in at most 1.3 of the fewest holds (issue 5)', () => {
  const runs = [1, 2, 3].flatMap((leaks) =>
    [1, 2, 3, 4].map((n) => huntSimulated(10 * n + leaks, 5, 3, leaks)),
  )
  const right = runs.filter((r) => r.right).length
  const holds = runs.reduce((sum, r) => sum + r.holds, 0)
  const bound = runs.reduce((sum, r) => sum + r.boundHolds, 0)
  expect(right / runs.length).toBeGreaterThanOrEqual(0.9)
  expect(holds / bound).toBeLessThanOrEqual(1.3)
}, 240_000)
