import { describe, expect, it } from 'vitest'
import { situations } from '#tests/simulator/situations.ts'
import { longerGasHolds } from './longer-holds.ts'

/** `npx tsx tests/validation/longer.ts` plays every situation; these few are quick. */
const gone = (['early-start', 'sun'] as const).flatMap((name) => {
  const situation = situations.find((one) => one.name === name)
  if (situation === undefined) throw new Error(`there is no situation '${name}'`)
  return longerGasHolds(situation, ['line', 'tank'], 2, name === 'sun' ? 3000 : 3002)
})

describe('needs_seconds_more of undecided holds, held that much longer (seeded simulator)', () => {
  const told = gone.filter(({ secondsMore }) => secondsMore !== null)
  it('most that a longer hold can decide are given a time', () => {
    const decidable = gone.filter((hold) => hold.decidable)
    expect(decidable.length).toBeGreaterThanOrEqual(4)
    expect(decidable.filter(({ secondsMore }) => secondsMore !== null).length).toBeGreaterThan(
      decidable.length / 2,
    )
  })
  it('all of these few but one at most are decided when held that much longer', () => {
    expect(told.filter(({ decided }) => !decided).length).toBeLessThanOrEqual(1)
  })
})
