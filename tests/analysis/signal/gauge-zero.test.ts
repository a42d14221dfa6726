import { describe, expect, it } from 'vitest'
import type { Channel } from '#analysis/model/system.ts'
import { gaugeZero, zeroErrorPa } from '#analysis/signal/gauge-zero.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'

const testPa = 68_948
const pumpUpS = 100
/** One reading a second of a gauge of no stated range or accuracy. */
function signal(
  paAt: (timeS: number) => number,
  { accuracySi = null, rangeSi = null }: Partial<Pick<Channel, 'accuracySi' | 'rangeSi'>> = {},
  atmosphereKnown = true,
): PressureSignal {
  const timeS = Float64Array.from({ length: 120 }, (_, i) => i)
  const channel = { accuracySi, rangeSi } as Channel
  return {
    timeS,
    gaugePa: timeS.map(paAt),
    channel,
    atmosphereKnown,
  } as Partial<PressureSignal> as PressureSignal
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

  it('may stand off by twice what the gauge may be wrong, where that is more', () => {
    const error = { accuracySi: 0.1 * testPa }
    for (const [share, seen] of [
      [0.199, true],
      [0.201, false],
    ] as const)
      expect(
        gaugeZero(
          signal(() => share * testPa, error),
          pumpUpS,
          testPa,
        ) !== null,
      ).toBe(seen)
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

describe('zeroErrorPa', () => {
  const kPa = 1000
  it('is the stated accuracy, else half a percent of the span', () => {
    expect(zeroErrorPa(signal(() => 0, { accuracySi: 250, rangeSi: [0, 100 * kPa] }))).toBe(250)
    expect(zeroErrorPa(signal(() => 0, { rangeSi: [-100 * kPa, 100 * kPa] }))).toBe(1000)
    expect(zeroErrorPa(signal(() => 0))).toBe(0)
  })

  it('is more by what an atmosphere may differ where an absolute transducer has no barometer beside it', () => {
    expect(zeroErrorPa(signal(() => 0, { accuracySi: 250 }, false))).toBe(10_250)
  })
})
