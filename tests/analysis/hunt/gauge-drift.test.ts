import { describe, expect, it } from 'vitest'
import { type GaugeZero, gaugeDrifts } from '#analysis/hunt/gauge-drift.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { wilsonInterval } from '#tests/wilson-interval.ts'

const dayNs = 86_400_000_000_000n
/** One hold a week, whose zeros scatter by 20 Pa from hold to hold and by 3 Pa within one. */
const weekly = (gauge: string, holds: number, paPerYear: number, noise: () => number): GaugeZero[] =>
  Array.from({ length: holds }, (_, i) => {
    const zero = (paPerYear * 7 * i) / 365.25 + 20 * noise()
    const time_ns = String(1_767_225_600_000_000_000n + BigInt(7 * i) * dayNs)
    return { gauge, record: `${gauge}-${i}`, time_ns, before_Pa: zero, after_Pa: zero + 3 * noise() }
  })

describe('gaugeDrifts(zeros)', () => {
  it('gives the slope of a line through one point a hold with its 95 % interval (Check: by hand, 1, 2, 3, 5 a week)', () => {
    // Slope 1.3 a week, residuals −0.05 … 0.3: s² = 0.3/2, u² = s²/5; t(0.975, 2) = 4.302653.
    const points = weekly('g', 4, 0, () => 0).map((zero, i) => ({
      ...zero,
      before_Pa: [1, 2, 3, 5][i] - 0.5,
      after_Pa: [1, 2, 3, 5][i] + 0.5,
    }))
    const [{ drift_Pa_per_year: drift, p_value }] = gaugeDrifts(points)
    const weeks = 365.25 / 7
    expect(drift?.value).toBeCloseTo(1.3 * weeks, 9)
    expect(drift!.high - drift!.value).toBeCloseTo(4.302653 * Math.sqrt(0.3 / 2 / 5) * weeks, 3)
    expect(p_value).toBeLessThan(0.05)
  })

  it('calls a gauge that climbs 2 kPa a year a drifting one, and no other of the archive', () => {
    const random = seededRandom(5, 1)
    const zeros = [
      ...weekly('SN-1', 20, 2000, () => random.normal()),
      ...weekly('SN-2', 20, 0, () => random.normal()),
    ]
    expect(gaugeDrifts(zeros.reverse()).map(({ gauge, drifts }) => [gauge, drifts])).toEqual([
      ['SN-1', true],
      ['SN-2', false],
    ])
  })

  it('calls any of three steady gauges a drifting one in at most 5 % of archives (300 seeded, by its own claim)', () => {
    const random = seededRandom(13, 1)
    const wrong = Array.from({ length: 300 }, () =>
      gaugeDrifts(['a', 'b', 'c'].flatMap((gauge) => weekly(gauge, 6, 0, () => random.normal()))),
    ).filter((gauges) => gauges.some(({ drifts }) => drifts)).length
    expect(wilsonInterval(wrong, 300)[0]).toBeLessThanOrEqual(0.05)
  })

  it('tells no drift from three holds', () => {
    const [told] = gaugeDrifts(weekly('a', 3, 5000, () => 0.1))
    expect(told).toMatchObject({ drift_Pa_per_year: null, p_value: null, drifts: false })
  })
})
