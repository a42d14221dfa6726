import { describe, expect, it } from 'vitest'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { suctionHold } from './suction-story.ts'

function held(seed: number, vacuumPsi: number, leak: number, rampKPerH: number | null = null) {
  const { story, truePa } = suctionHold(seed, vacuumPsi, leak, rampKPerH)
  const [analysis] = analyzeRecording(story.recording(), story.system)
  const { drop_Pa, mol_per_s } = analysis.result.leak as SectionLeak
  return { ...analysis, truePa, rise: drop_Pa, molPerS: mol_per_s!, verdict: analysis.result.verdict }
}

const vacuums = [1, 3, 6] as const

describe('analyzeRecording of a section under suction (simulated lines)', () => {
  it('analyzeRecording never passes an ingress of once or twice the allowance, room steady or moving 3 K/h (24 holds)', () => {
    for (const vacuum of vacuums)
      for (const leak of [1, 2])
        for (const ramp of [null, 3])
          for (const seed of [1, 2])
            expect(
              held(seed * 100 + vacuum, vacuum, leak, ramp).verdict,
              `${vacuum} ${leak} ${seed}`,
            ).not.toBe('pass')
  })

  it('analyzeRecording fails every ingress of twice the allowance and passes nearly every tight section (steady room)', () => {
    let passed = 0
    for (const vacuum of vacuums)
      for (const seed of [11, 12, 13]) {
        expect(held(seed * 100 + vacuum, vacuum, 2).verdict, `${vacuum} ${seed}`).toBe('fail')
        if (held(seed * 100 + vacuum, vacuum, 0).verdict === 'pass') passed++
      }
    expect(passed).toBeGreaterThanOrEqual(8)
  })

  it('analyzeRecording covers the true rise in 17 of 18 holds of 1.25 times the allowance, gas colder than its wall at first', () => {
    let covered = 0
    for (const vacuum of vacuums)
      for (const ramp of [null, 3])
        for (const seed of [21, 22, 23]) {
          const { rise, truePa } = held(seed * 100 + vacuum, vacuum, 1.25, ramp)
          if (rise.low <= truePa && truePa <= rise.high) covered++
        }
    expect(covered).toBeGreaterThanOrEqual(17)
  })

  it('analyzeRecording says ingress as a positive leak while the raw drop is negative: the gauge rises toward the atmosphere', () => {
    const { result, rise, molPerS, curves, meaning } = held(3, 3, 2)
    expect(rise.value).toBeGreaterThan(0)
    expect(molPerS.value).toBeGreaterThan(0)
    expect(result.allowance.drop_Pa).toBeGreaterThan(0)
    expect(result.raw_drop_Pa).toBeLessThan(0)
    const [{ gaugePa, leakLinePa }] = curves
    expect(gaugePa[0]).toBeLessThan(0)
    expect(leakLinePa.at(-1)!).toBeGreaterThan(leakLinePa[0])
    expect(meaning[0].equivalent_hole_m!).toBeGreaterThan(0)
  })

  it('analyzeRecording voids a suction that falls deeper by itself: something draws on the section and hides the ingress', () => {
    const { story } = suctionHold(5, 3, -1)
    const [{ result }] = analyzeRecording(story.recording(), story.system)
    expect(result.verdict).toBe('void')
    expect(result.reasons.map(({ code }) => code)).toContain('pressure-rose')
  })
})

describe('planHold of a suction', () => {
  it('planHold says when the vacuum is deeper than the section may bear, and when its limit is not known', () => {
    const { story } = suctionHold(1, 3, 0)
    const { system } = story
    const limited = (maxVacuumPa: number | null) => ({
      ...system,
      sections: system.sections.map((section) => ({ ...section, maxVacuumPa })),
    })
    const topics = (maxVacuumPa: number | null) =>
      planHold(limited(maxVacuumPa), system.holds[0].id)!.cautions.map(({ topic }) => topic)
    expect(topics(10_000)).toContain('over-limit')
    expect(topics(null)).toContain('limit-unknown')
    expect(topics(30_000)).not.toContain('over-limit')
  })

  it('planHold advises a vacuum breaker and no relief valve, and never speaks of pumping up', () => {
    const { story } = suctionHold(1, 3, 0)
    const { cautions, waits } = planHold(story.system, story.system.holds[0].id)!
    const topics = cautions.map(({ topic }) => topic)
    expect(topics).toContain('vacuum-breaker')
    expect(topics).not.toContain('relief-valve')
    // the rule of the ramp is quoted as one for pumping up
    for (const { topic, message } of [...cautions, ...waits])
      if (topic !== 'wait-ramp')
        expect(message).not.toMatch(/pump(ed|ing)? (it )?up|relief|test pressure is above/i)
  })
})
