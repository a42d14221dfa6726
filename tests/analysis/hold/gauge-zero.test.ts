import { describe, expect, it } from 'vitest'
import { gaugeZero } from '#analysis/hold/gauge-zero.ts'
import type { PressureSignal } from '#analysis/hold/pressure-signal.ts'

const testPa = 68_948
const pumpUpS = 100
/** One reading a second; only times and pressures are looked at. */
function signal(paAt: (timeS: number) => number): PressureSignal {
  const timeS = Float64Array.from({ length: 120 }, (_, i) => i)
  return { timeS, gaugePa: timeS.map(paAt) } as PressureSignal
}

describe('gaugeZero(signal, pump-up at 100 s, 68.9 kPa)', () => {
  it('is the mean of the minute before pump-up, its last half second left out', () => {
    expect(
      gaugeZero(
        signal((t) => (t < 40 ? 9e3 : t < 100 ? 250 + (t % 2) : 5e4)),
        pumpUpS,
        testPa,
      ),
    ).toBeCloseTo(250.5, 6)
  })

  it('is null when it moved by a tenth of the test pressure: it was being pumped already', () => {
    const ramp = (span: number) => signal((t) => (span * (t - 40)) / 59)
    expect(gaugeZero(ramp(0.101 * testPa), pumpUpS, testPa)).toBeNull()
    expect(gaugeZero(ramp(0.099 * testPa), pumpUpS, testPa)).not.toBeNull()
  })

  it('is null where it stands off by 15 % of the test pressure: pressure was on before', () => {
    expect(
      gaugeZero(
        signal(() => 0.151 * testPa),
        pumpUpS,
        testPa,
      ),
    ).toBeNull()
    expect(
      gaugeZero(
        signal(() => -0.149 * testPa),
        pumpUpS,
        -testPa,
      ),
    ).toBeCloseTo(-0.149 * testPa, 3)
  })

  it('is null without a marked pump-up, and with fewer than five readings before it', () => {
    expect(
      gaugeZero(
        signal(() => 1),
        null,
        testPa,
      ),
    ).toBeNull()
    expect(
      gaugeZero(
        signal((t) => (t < 96 ? Number.NaN : 1)),
        pumpUpS,
        testPa,
      ),
    ).toBeNull()
    expect(
      gaugeZero(
        signal((t) => (t < 95 ? Number.NaN : 1)),
        pumpUpS,
        testPa,
      ),
    ).toBe(1)
  })
})
