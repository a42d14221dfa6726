import { describe, expect, it } from 'vitest'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import { heldFor } from './longer-holds.ts'

/** Standard errors that a plan's smallest leak holds over the half-width of the interval: (1.96 + 0.84)/1.96. */
const deciding = (1.96 + 0.8416) / 1.96

const played = (['steady', 'ramp'] as const).flatMap((name) =>
  (['line', 'line', 'tank', 'tank'] as const).map((kind, i) => {
    const situation = situations.find((one) => one.name === name)
    if (situation === undefined) throw new Error(`there is no situation '${name}'`)
    const seed = 7300 + (i % 2)
    const scenario = situation.scenario(seed, 0, kind)
    const { recording, system } = simulateHold(scenario, seed)
    const driftKPerH = Math.max(0.3, Math.abs(scenario.weather.roomRampKPerS) * 3600)
    const plan = planHold(system, system.holds[0].id, { sampleHz: scenario.bench.sampleHz, driftKPerH })
    const needed = plan?.needed_seconds ?? null
    const [{ result }] = analyzeRecording(recording, system)
    const { drop_Pa } = result.leak as SectionLeak
    return {
      name: `${name} ${kind}`,
      plan,
      verdict: result.verdict,
      atNeeded:
        needed === null ? null : analyzeRecording(heldFor(scenario, seed, needed), system)[0].result.verdict,
      ratio: ((drop_Pa.high - drop_Pa.low) / 2 / (plan?.smallest_drop_Pa ?? 0)) * deciding,
    }
  }),
)

describe('planHold against holds that were played (seeded simulator, which the plan does not know)', () => {
  it('tight holds that the plan calls decidable pass, eight in eight', () => {
    for (const { name, plan, verdict } of played) if (plan?.decides) expect(verdict, name).toBe('pass')
    expect(played.filter(({ plan }) => plan?.decides).length).toBeGreaterThanOrEqual(6)
  })
  it('and pass in the time that the plan says is enough, three in four', () => {
    expect(played.filter(({ atNeeded }) => atNeeded === 'pass').length).toBeGreaterThanOrEqual(6)
  })
  it('the predicted width is that of the real interval within a factor of 3, seven in eight, and on their middle within 1.5', () => {
    const near = played.filter(({ ratio }) => Math.abs(Math.log(ratio)) < Math.log(3))
    expect(near.length).toBeGreaterThanOrEqual(7)
    const middle = played.reduce((sum, { ratio }) => sum + Math.log(ratio), 0) / played.length
    expect(Math.abs(middle)).toBeLessThan(Math.log(1.5))
  })
})
