import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { fullLine, wallExpansionPerK } from '#analysis/fit/full-line.ts'
import { dropM3, fuelProperties } from '#analysis/physics/fuel-properties.ts'
import { fromUnit } from '#analysis/physics/units.ts'
import {
  compressibilityPerPa,
  density60From,
  thermalExpansionPerK,
  volumeCorrection,
} from '#analysis/physics/volume-correction.ts'

describe('volumeCorrection: API MPMS 11.1-2004 worked examples (11.1.6.1)', () => {
  it('jet 85 °F, 247.3 psig, RD 0.7943: CTL 0.986832406683, CPL 1.001646525013, CTPL 0.98846', () => {
    // relative density refers to water of 999.016 kg/m³ at 60 °F
    const { ctl, cpl } = volumeCorrection(0.7943 * 999.016, fromUnit(85, 'degF'), fromUnit(247.3, 'psi'))
    expect(ctl).toBeCloseTo(0.986832406683, 11)
    expect(cpl).toBeCloseTo(1.001646525013, 11)
    expect((ctl * cpl).toFixed(5)).toBe('0.98846')
  })
  it('gasoline 27.3 °F, 1234.5 psig, 657.3 kg/m³: CTL 1.026475833518, CPL 1.012417396817, CTPL 1.03922', () => {
    const { ctl, cpl } = volumeCorrection(657.3, fromUnit(27.3, 'degF'), fromUnit(1234.5, 'psi'))
    expect(ctl).toBeCloseTo(1.026475833518, 11)
    expect(cpl).toBeCloseTo(1.012417396817, 11)
    expect((ctl * cpl).toFixed(5)).toBe('1.03922')
  })
})

describe('volumeCorrection: laws', () => {
  it('at 60 °F and no pressure nothing is corrected', () => {
    const { ctl, cpl } = volumeCorrection(721, fromUnit(60, 'degF'), 0)
    expect(ctl).toBeCloseTo(1, 7)
    expect(cpl).toBe(1)
  })
  it('density60From undoes the correction for every product and temperature', () => {
    fc.assert(
      fc.property(
        // within one product group: the groups join with a small step
        fc.oneof(
          fc.double({ min: 640, max: 760, noNaN: true }),
          fc.double({ min: 795, max: 830, noNaN: true }),
          fc.double({ min: 850, max: 1000, noNaN: true }),
        ),
        fc.double({ min: 250, max: 320, noNaN: true }),
        (density60, kelvin) => {
          const density = density60 * volumeCorrection(density60, kelvin, 0).ctl
          const back = density60From(density, kelvin)
          return Math.abs(back - density60) < 1e-8
        },
      ),
    )
  })
  it('refuses a density no refined product has', () => {
    expect(() => volumeCorrection(500, 288.15, 0)).toThrow(RangeError)
    expect(() => volumeCorrection(Number.NaN, 288.15, 0)).toThrow(RangeError)
  })
  it('every fuel has properties within the table', () => {
    for (const fuel of Object.values(fuelProperties)) {
      const density60 = density60From(fuel.density15KgM3, 288.15)
      expect(thermalExpansionPerK(density60, 293.15)).toBeGreaterThan(8e-4)
      expect(fuel.viscosityPaS).toBeGreaterThanOrEqual(fuel.viscosityRangePaS[0])
      expect(fuel.viscosityPaS).toBeLessThanOrEqual(fuel.viscosityRangePaS[1])
    }
    expect(fromUnit(1, 'mL') / dropM3).toBeCloseTo(20, 12)
  })
})

describe('trapped avgas, 721 kg/m³ at 15 °C', () => {
  const density60 = density60From(721, 288.15)
  const expansionPerK = thermalExpansionPerK(density60, 288.15)
  const yieldPerPa = compressibilityPerPa(density60, 288.15, 0)
  it('α is 1.27531e-3 /K and β 1.19582e-9 /Pa (computed from API MPMS 11.1)', () => {
    expect(expansionPerK).toBeCloseTo(1.27531e-3, 8)
    expect(yieldPerPa).toBeCloseTo(1.19582e-9, 14)
  })
  it('a rigid line moves by α/β, 1.0665 MPa/K (computed)', () => {
    expect((expansionPerK / yieldPerPa / 1e6).toFixed(4)).toBe('1.0665')
  })
  it('with 1 % air at 125 kPa in an aluminium line by 15.107 kPa/K: air yields 1/p and expands by 1/T (computed)', () => {
    const net = 0.99 * expansionPerK + 0.01 / 288.15 - wallExpansionPerK.aluminium
    expect((net / (0.99 * yieldPerPa + 0.01 / 125_000) / 1000).toFixed(3)).toBe('15.107')
  })
  it('a third of a litre moves by 2.5 MPa/mL: a tenth of a drop empties a rigid line of 1 psi', () => {
    const perMl = 1e-6 / (0.334e-3 * yieldPerPa)
    expect(perMl / 2.5e6).toBeCloseTo(1, 2)
    expect(perMl * 0.1 * 0.05).toBeGreaterThan(6895)
  })
  it('fullLine takes these figures: α less the wall, β where the walls are rigid, and α²T/ρc for the heat of a push', () => {
    const line = fullLine({ stretchPerPa: 0 }, 'avgas', 288.15, 0)
    expect(line.leastYieldPerPa).toBe(yieldPerPa)
    expect(line.expansionPerK).toBe(expansionPerK - wallExpansionPerK.stainless)
    expect(line.heatPerPa).toBeCloseTo((expansionPerK ** 2 * 288.15) / (721 * 2100), 14)
  })
})
