import { describe, expect, it } from 'vitest'
import { coarseStepPa, sampleNoise } from '#analysis/signal/sample-noise.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { plainHold } from '#tests/simulator/plain-hold.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { psiPa } from '#tests/simulator/units.ts'

const allowedPa = 0.1 * psiPa

/** A quiet line hold read through a converter of so large a step and next to no noise. */
function readCoarsely(seed: number, leakOverAllowance: number, stepOverAllowance: number, stated: boolean) {
  const plain = plainHold(seededRandom(seed, 7), 'line', leakOverAllowance)
  const stepPa = stepOverAllowance * allowedPa
  const bits = Math.ceil(Math.log2((1.5 * plain.procedure.pressurePsi * psiPa) / stepPa))
  const pressure = {
    ...plain.bench.pressure,
    ...{ kind: 'gauge' as const, lowPa: 0, highPa: stepPa * (2 ** bits - 1), bits },
    ...{ whitePa: 2, flickerPa: 0, walkPaPerSqrtS: 0, driftPaPerS: 0, offsetPa: 0, gain: 1 },
  }
  const { recording, system } = simulateHold(
    {
      ...plain,
      procedure: { ...plain.procedure, allow: { kind: 'drop', dropPsi: 0.1 } },
      bench: { ...plain.bench, statesResolution: stated, pressure },
    },
    seed,
  )
  return analyzeRecording(recording, system)[0].result.verdict
}

describe('a converter too coarse for the allowance', () => {
  it('analyzeRecording() passes none of 24 leaks of 1.1 allowances that hide within a step (simulated, seeded)', () => {
    const verdicts = [2.5, 4].flatMap((steps) =>
      [8, 9, 10, 11, 14, 15].flatMap((seed) =>
        [true, false].map((stated) => readCoarsely(seed, 1.1, steps, stated)),
      ),
    )
    expect(verdicts).not.toContain('pass')
  })

  it('analyzeRecording() passes tight lines still where the step is a tenth of the allowance (simulated, seeded)', () => {
    const verdicts = [1, 2, 3, 4, 5, 6].map((seed) => readCoarsely(seed, 0, 0.1, true))
    expect(verdicts.filter((verdict) => verdict === 'pass').length).toBeGreaterThanOrEqual(4)
    expect(verdicts).not.toContain('fail')
  })

  it('coarseStepPa() of 100 Pa over the stated time is 86.6 Pa, over half of it twice that (computed)', () => {
    const noise = { std: 1, step: 100, codes: 2, coarse: true, ripple: 0 }
    expect(coarseStepPa(noise, 600, 600)).toBeCloseTo(86.6025, 3)
    expect(coarseStepPa(noise, 300, 600)).toBeCloseTo(173.205, 3)
    expect(coarseStepPa({ ...noise, coarse: false }, 600, 600)).toBe(0)
  })

  it('sampleNoise() of 0.02 K of noise on steps of 0.0625 K leaves a ripple of 2.6 mK (computed)', () => {
    const random = seededRandom(3, 1)
    const drifting = Float64Array.from({ length: 20_000 }, (_, i) => {
      return 0.0625 * Math.round((293 + 5e-5 * i + 0.02 * random.normal()) / 0.0625)
    })
    const noise = sampleNoise(drifting)
    expect(noise.coarse).toBe(false)
    expect(noise.ripple).toBeGreaterThan(0.0022)
    expect(noise.ripple).toBeLessThan(0.005)
  })

  it('sampleNoise() next to the edge between two codes stays coarse: noise of 0.05 steps flips as well (simulated)', () => {
    const random = seededRandom(4, 1)
    const onEdge = Float64Array.from({ length: 2000 }, () => Math.round(7.5 + 0.05 * random.normal()))
    expect(sampleNoise(onEdge)).toMatchObject({ coarse: true, ripple: 0, step: 1 })
  })

  it('sampleNoise() of one reading through all takes the step from the rest of the channel', () => {
    const still = new Float64Array(100).fill(700)
    expect(sampleNoise(still).coarse).toBe(false)
    const ramp = Float64Array.from({ length: 20 }, (_, k) => 50 * k)
    expect(sampleNoise(still, null, ramp)).toMatchObject({ step: 50, coarse: true })
  })
})
