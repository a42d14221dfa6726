import { describe, expect, it } from 'vitest'
import { vesselBelief } from '#analysis/fit/fit-beside-vessel.ts'
import type { HoldResult, SectionLeak } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { type TwinFaults, withTwin } from '#tests/analysis/fit/twin-vessel.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'

const leakOf = ({ leak }: HoldResult) => (leak as SectionLeak).drop_Pa
const codesOf = ({ reasons }: HoldResult) => reasons.map(({ code }) => code)

/** A simulated tank hold without and with a twin beside it. */
function both(name: string, seed: number, leakOverAllowance: number, faults: TwinFaults = {}) {
  const situation = situations.find((one) => one.name === name)!
  const hold = simulateHold(situation.scenario(seed, leakOverAllowance, 'tank'), seed)
  const twin = withTwin(hold, seed, faults)
  const [without] = analyzeRecording(hold.recording, hold.system)
  const [beside] = analyzeRecording(twin.recording, twin.system)
  return { without: without.result, beside: beside.result, truePa: hold.truth.dropPa }
}

describe('analyzeRecording beside a closed reference vessel (simulated tanks)', () => {
  it('analyzeRecording narrows unmeasured weather by a fifth on average, widens swings by nothing, and covers the true leak in 11 of 12 holds (seeds 1 to 6)', () => {
    let covered = 0
    for (const [name, most] of [
      ['swings', 1.0001],
      ['no-barometer', 0.8],
    ] as const) {
      let logRatio = 0
      for (const seed of [1, 2, 3, 4, 5, 6]) {
        const { without, beside, truePa } = both(name, seed, 0.5)
        const [a, b] = [leakOf(without), leakOf(beside)]
        logRatio += Math.log((b.high - b.low) / (a.high - a.low)) / 6
        if (b.low <= truePa && truePa <= b.high) covered++
      }
      expect(Math.exp(logRatio), name).toBeLessThan(most)
    }
    expect(covered).toBeGreaterThanOrEqual(11)
  })

  it('analyzeRecording never says less beside a vessel than without it (sun, seeds 1 to 3)', () => {
    for (const seed of [1, 2, 3]) {
      const { without, beside } = both('sun', seed, 0.5)
      const [a, b] = [leakOf(without), leakOf(beside)]
      expect(b.high - b.low, `seed ${seed}`).toBeLessThanOrEqual((a.high - a.low) * 1.0001)
    }
  })

  it.each([
    ['sun', 0.3],
    ['swings', 0.7],
    ['no-barometer', 0.5],
  ] as const)(
    'analyzeRecording of %s holds leaking 1.5 times the allowance never passes beside a vessel leaking %f of it (seeds 11 to 13)',
    (name, leakOverAllowance) => {
      for (const seed of [11, 12, 13]) {
        const { beside } = both(name, seed, 1.5, { leakOverAllowance })
        expect(beside.verdict, `seed ${seed}`).not.toBe('pass')
      }
    },
  )

  it('analyzeRecording leaves out a vessel that leaks twice the allowance, and the answer is that without it', () => {
    const { without, beside } = both('steady', 5, 1.5, { leakOverAllowance: 2 })
    expect(codesOf(beside)).toContain('reference-vessel-fell')
    expect(leakOf(beside)).toEqual(leakOf(without))
  })

  it('analyzeRecording leaves out a vessel that is being pumped during the hold', () => {
    const { without, beside } = both('steady', 5, 0.5, { leakOverAllowance: -2 })
    expect(codesOf(beside)).toContain('reference-vessel-rose')
    expect(leakOf(beside)).toEqual(leakOf(without))
  })

  it('analyzeRecording never passes 1.5 times the allowance beside a vessel whose gauge hangs', () => {
    for (const seed of [21, 22])
      expect(both('sun', seed, 1.5, { stuck: true }).beside.verdict, `seed ${seed}`).not.toBe('pass')
  })

  it('analyzeRecording leaves out a vessel where no thermometer can tell whether it is tight', () => {
    const hold = simulateHold(situations[0].scenario(3, 0.5, 'tank'), 3)
    const { recording, system } = withTwin(hold, 3)
    const channels = recording.channels.filter(({ channel }) => channel !== 't-bench')
    const [{ result }] = analyzeRecording({ ...recording, channels }, system)
    expect(codesOf(result)).toContain('reference-vessel-alone')
    expect(result.verdict).not.toBe('pass')
  })

  it('analyzeRecording leaves out a vessel without readings', () => {
    const hold = simulateHold(situations[0].scenario(3, 0.5, 'tank'), 3)
    const { system } = withTwin(hold, 3)
    const [{ result }] = analyzeRecording(hold.recording, system)
    expect(codesOf(result)).toContain('reference-vessel-unread')
  })
})

describe('vesselBelief(found, std, usual)', () => {
  it('vesselBelief weights add up to one', () => {
    const { weight } = vesselBelief(0.4, 1, 10)
    expect(weight.reduce((sum, w) => sum + w, 0)).toBeCloseTo(1, 12)
  })
  it('vesselBelief(0, σ, 100 σ) takes the vessel for tight by 99.5 %: 0.3·√(π/2)/100 against 0.7 (computed)', () => {
    const leaky = (0.3 * Math.sqrt(Math.PI / 2)) / 100
    expect(vesselBelief(0, 1, 100).weight[0]).toBeCloseTo(0.7 / (0.7 + leaky), 3)
  })
  it('vesselBelief(4 σ, σ, 40 σ) takes it for leaking by more than 98 % (e^8 against 0.7)', () => {
    expect(vesselBelief(4, 1, 40).weight[0]).toBeLessThan(0.02)
  })
  it('vesselBelief of a fall far the wrong way stays finite and tight', () => {
    const { weight } = vesselBelief(-50, 1, 10)
    expect(weight[0]).toBeGreaterThan(0.99)
  })
})
