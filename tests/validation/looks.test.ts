import { describe, expect, it } from 'vitest'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import { looksAt, recordingAt } from './looks.ts'

const hold = (name: string, seed: number, leak: number) => {
  const situation = situations.find((one) => one.name === name)
  if (situation === undefined) throw new Error(`there is no situation '${name}'`)
  return simulateHold(situation.scenario(seed, leak, 'line'), seed)
}
const looks = (name: string, seed: number, leak: number) => {
  const { recording, system } = hold(name, seed, leak)
  return looksAt(recording, system, system.holds[0].holdS / 5).map(({ verdict }) => verdict)
}

describe('analyzeRecording of a running hold, looked at five times (seeded simulator)', () => {
  it('no look at a leak of exactly the allowance passes', () => {
    for (const [name, seed] of [
      ['steady', 21],
      ['creep', 22],
      ['ramp', 23],
    ] as const) {
      const seen = looks(name, seed, 1)
      expect(seen.length, name).toBeGreaterThanOrEqual(4)
      expect(seen, name).not.toContain('pass')
    }
  })
  it('a tight hold in a quiet room passes before its end, and no look fails', () => {
    const seen = looks('steady', 31, 0)
    expect(seen.indexOf('pass')).toBeGreaterThanOrEqual(0)
    expect(seen.indexOf('pass')).toBeLessThan(seen.length - 1)
    expect(seen).not.toContain('fail')
  })
  it('the recording as it stood holds no later sample and no later mark', () => {
    const { recording } = hold('steady', 31, 0)
    const half = recordingAt(recording, 300)
    for (const { timeS } of half.channels) expect(timeS[timeS.length - 1]).toBeLessThanOrEqual(300)
    expect(half.marks).toEqual(recording.marks.filter(({ timeS }) => timeS <= 300))
    expect(half.marks.length).toBeGreaterThan(0)
    expect(half.marks.length).toBeLessThan(recording.marks.length)
  })
})
