import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { platinumK, platinumOhms, scaledReading, thermistorK } from '#analysis/physics/sensor-scale.ts'

const source = { measurement: 'logger', field: 'rail', tags: {} } as const

describe('platinum thermometer: IEC 60751 table for 100 Ω', () => {
  const table: readonly [celsius: number, ohms: number][] = [
    [-200, 18.52],
    [-100, 60.26],
    [-50, 80.31],
    [0, 100],
    [50, 119.4],
    [100, 138.51],
    [200, 175.86],
    [850, 390.48],
  ]
  for (const [celsius, ohms] of table) {
    it(`platinumOhms(${celsius} °C, 100) is ${ohms} Ω`, () =>
      expect(platinumOhms(celsius + 273.15, 100)).toBeCloseTo(ohms, 2))
    it(`platinumK(${ohms} Ω, 100) is ${celsius} °C within the table's rounding`, () =>
      expect(Math.abs(platinumK(ohms, 100) - 273.15 - celsius)).toBeLessThan(0.02))
  }
  it('platinumK undoes platinumOhms from −200 °C to 850 °C', () => {
    fc.assert(
      fc.property(fc.double({ min: 73.15, max: 1123.15, noNaN: true }), (kelvin) => {
        return Math.abs(platinumK(platinumOhms(kelvin, 1000), 1000) - kelvin) < 1e-7
      }),
    )
  })
  it('platinumK of a short or an open lead is no temperature', () => {
    expect(platinumK(0, 100)).toBeNaN()
    expect(platinumK(4000, 100)).toBeNaN()
  })
})

describe('thermistorK', () => {
  it('thermistorK of the resistance at 25 °C is 298.15 K (exact)', () => {
    expect(thermistorK(10_000, 10_000, 3950)).toBe(298.15)
  })
  it('thermistorK of R₂₅·exp(β(1/273.15 − 1/298.15)) is 273.15 K (computed from the law)', () => {
    const ohms = 10_000 * Math.exp(3950 * (1 / 273.15 - 1 / 298.15))
    expect(thermistorK(ohms, 10_000, 3950)).toBeCloseTo(273.15, 10)
  })
  it('thermistorK of a short is no temperature', () => expect(thermistorK(0, 10_000, 3950)).toBeNaN())
})

describe('scaledReading', () => {
  it('a linear scale is offset and slope', () => {
    // 4 to 20 mA for 0 to 30 psi: 16 mA is 22.5 psi
    const perMilliampere = (30 * 6894.757293168) / 16
    const scale = { kind: 'linear', slopeSi: perMilliampere, offsetSi: -4 * perMilliampere } as const
    expect(scaledReading(scale, 16)).toBeCloseTo(22.5 * 6894.757293168, 6)
  })
  it('a ratiometric scale follows its rail: half of 5.2 V reads as half of 4.8 V', () => {
    const scale = {
      kind: 'ratiometric',
      rail: source,
      lowRatio: 0.1,
      highRatio: 0.9,
      lowSi: 0,
      highSi: 200_000,
    } as const
    expect(scaledReading(scale, 2.6, 5.2)).toBeCloseTo(100_000, 8)
    expect(scaledReading(scale, 2.4, 4.8)).toBeCloseTo(100_000, 8)
    expect(scaledReading(scale, 2.4)).toBeNaN()
    expect(scaledReading(scale, 2.4, 0)).toBeNaN()
  })
  it('thermometer scales use their laws', () => {
    expect(scaledReading({ kind: 'ntc', ohmsAt25C: 10_000, betaK: 3950 }, 10_000)).toBe(298.15)
    expect(scaledReading({ kind: 'pt', ohmsAt0C: 1000 }, 1000)).toBeCloseTo(273.15, 10)
  })
})
