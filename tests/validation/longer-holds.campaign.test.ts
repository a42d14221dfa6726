import { describe, expect, it } from 'vitest'
import { situations } from '#tests/simulator/situations.ts'
import { longerGasHolds } from './longer-holds.ts'

/** `npx tsx tests/validation/longer.ts` plays every situation; these two are quick. */
const gone = (['early-start', 'sun'] as const).flatMap((name) => {
  const situation = situations.find((one) => one.name === name)
  if (situation === undefined) throw new Error(`there is no situation '${name}'`)
  return longerGasHolds(situation, ['line', 'tank'], 4, 3000)
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
  it('three in four of these are decided when held that much longer', () => {
    expect(told.length).toBeGreaterThanOrEqual(8)
    expect(told.filter(({ decided }) => decided).length).toBeGreaterThanOrEqual(0.75 * told.length)
  })
})
