import { describe, expect, test } from 'vitest'
import { thermometer, transducer } from '#ingest/simulator/instruments.ts'
import { seededRandom } from '#ingest/simulator/random.ts'

const quiet = {
  kind: 'gauge' as const,
  lowPa: 0,
  highPa: 1023,
  bits: 10,
  whitePa: 0,
  flickerPa: 0,
  flickerTauS: 30,
  walkPaPerSqrtS: 0,
  driftPaPerS: 0,
  offsetPa: 0,
  gain: 1,
}

describe('transducer', () => {
  test('reads whole steps of its converter and stops at both ends of its span', () => {
    const read = transducer(quiet, seededRandom(1))
    expect([-5, 0.4, 0.6, 500.2, 2000].map((pa, i) => read(pa, i))).toEqual([0, 0, 1, 500, 1023])
  })

  test('walks by σ·√t: 400 walks of 100 s at 1 Pa/√s spread by 10 Pa (definition of a random walk)', () => {
    const ends = Array.from({ length: 400 }, (_, seed) => {
      const read = transducer(
        { ...quiet, lowPa: -5000, highPa: 5000, bits: 20, walkPaPerSqrtS: 1 },
        seededRandom(seed),
      )
      let last = 0
      for (let timeS = 0; timeS <= 100; timeS += 2) last = read(0, timeS)
      return last
    })
    const spread = Math.sqrt(ends.reduce((sum, end) => sum + end * end, 0) / ends.length)
    // Standard error of the spread is 10/√800 = 0.35 Pa.
    expect(Math.abs(spread - 10)).toBeLessThan(1.5)
  })
})

describe('thermometer', () => {
  const spec = { touches: 'wall' as const, lagS: 30, whiteK: 0, resolutionK: 1e-9, offsetK: 0, share: 1 }

  test('follows a ramp late by slope · lag once settled (first-order lag, exact)', () => {
    const read = thermometer(spec, seededRandom(1))
    let shown = 0
    for (let timeS = 0; timeS <= 600; timeS += 0.5) shown = read(290 + 0.01 * timeS, timeS)
    expect(shown).toBeCloseTo(290 + 0.01 * (600 - 30), 6)
  })

  test('shows the stated share of a change', () => {
    const read = thermometer({ ...spec, share: 0.8 }, seededRandom(1))
    read(290, 0)
    read(292, 1)
    expect(read(292, 3000)).toBeCloseTo(291.6, 6)
  })

  test('reads in steps of 0.0625 °C, as a common digital thermometer does', () => {
    const read = thermometer({ ...spec, resolutionK: 0.0625, whiteK: 0.02 }, seededRandom(3))
    for (let timeS = 0; timeS < 50; timeS++) {
      const steps = (read(295.03, timeS) - 273.15) / 0.0625
      expect(Math.abs(steps - Math.round(steps))).toBeLessThan(1e-6)
    }
  })
})

test('seededRandom: 20 000 normals have mean 0 and variance 1 within four standard errors', () => {
  const random = seededRandom(11)
  const values = Array.from({ length: 20_000 }, () => random.normal())
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  const variance = values.reduce((sum, value) => sum + value * value, 0) / values.length
  expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(20_000))
  expect(Math.abs(variance - 1)).toBeLessThan(4 * Math.sqrt(2 / 20_000))
})
