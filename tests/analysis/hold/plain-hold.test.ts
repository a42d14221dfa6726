import { describe, expect, it } from 'vitest'
import { leakColumns } from '#analysis/hold/leak-columns.ts'
import { type PlainHold, plainHold } from './plain-hold.ts'

const line: PlainHold = {
  volumeL: 0.35,
  pressurePsi: 10,
  pumpUpS: 20,
  settleS: 120,
  holdS: 600,
  allowPsi: 0.1,
  leak: 0,
  flowExponent: 1,
  kelvinPerHour: 0,
  sampleHz: 5,
}
const tank: PlainHold = {
  ...line,
  volumeL: 120,
  pressurePsi: 1,
  pumpUpS: 60,
  settleS: 300,
  holdS: 1800,
  kelvinPerHour: -4,
}

describe('analyzeRecording on holds written by hand (isothermal pump-up, straight temperature)', () => {
  it('a tight line in a still room passes, with the caution that a supply left on looks the same', () => {
    const { result, codes } = plainHold(line)
    expect(result.verdict).toBe('pass')
    expect(codes).toContain('supply-not-excluded')
  })

  it('a tight tank that never gives off the heat of pumping is void: its gas must cool', () => {
    const { result, codes } = plainHold({ ...tank, kelvinPerHour: 0 })
    expect(result.verdict).toBe('void')
    expect(codes).toContain('pressure-held-up')
  })

  it.each([0, 0.5, 1])(
    'a tank that cools and leaks 2 × the allowance fails whatever the flow law: (p² − p_b²)^%f',
    (flowExponent) => {
      const { result, dropPsi } = plainHold({ ...tank, allowPsi: 0.1, leak: 2, flowExponent })
      expect(result.verdict).toBe('fail')
      expect(dropPsi.low).toBeLessThan(0.2)
      expect(dropPsi.high).toBeGreaterThan(0.2)
    },
  )
})

describe('leakColumns', () => {
  const atmospherePa = 100_000
  const rows = (gaugePa: readonly number[]) => ({
    fromS: Float64Array.from(gaugePa, (_, i) => 10 * i),
    toS: Float64Array.from(gaugePa, (_, i) => 10 * i + 10),
    absolutePa: Float64Array.from(gaugePa, (g) => g + atmospherePa),
    gaugePa: Float64Array.from(gaugePa),
    variance: new Float64Array(gaugePa.length),
    logTemperature: new Float64Array(gaugePa.length),
    temperatureVariance: new Float64Array(gaugePa.length),
    temperatureK: 293.15,
    holdFromS: 5,
    statedHoldS: 100,
    testPa: 110_000,
    testGaugePa: 10_000,
  })
  const rigid = new Float64Array(11).fill(1)

  it('at the stated pressure every law loses its drop in the stated hold time', () => {
    for (const flowExponent of [0, 0.5, 1]) {
      const { leak } = leakColumns(rows(new Array(11).fill(10_000)), { stretchPerPa: 0, flowExponent }, rigid)
      expect(leak[10] - leak[0]).toBeCloseTo(-1, 12)
    }
  })

  it('at half the gauge pressure: (105² − 100²)/(110² − 100²) = 0.488 to the power of the exponent, over 105/110 (computed)', () => {
    for (const flowExponent of [0, 0.5, 1]) {
      const { leak, law } = leakColumns(
        rows(new Array(11).fill(5_000)),
        { stretchPerPa: 0, flowExponent },
        rigid,
      )
      const expected = ((1025 / 2100) ** flowExponent * 110) / 105
      expect(leak[10] - leak[0]).toBeCloseTo(-expected, 12)
      // d/dm of x^m is x^m·ln x; the step of 0.05 is worth 2 % of it.
      expect((law[10] - law[0]) / (-expected * Math.log(1025 / 2100))).toBeCloseTo(1, 1)
    }
  })
})
