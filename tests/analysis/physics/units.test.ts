import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { unitTable } from '#analysis/physics/unit-table.ts'
import { findUnit, fromUnit, nearestUnit, toUnit, unitsOf, unknownUnit } from '#analysis/physics/units.ts'

/** Factors as NIST SP 811 appendix B.8 prints them, rounded to its seven digits or exact (bold there). */
const published: readonly [unit: string, si: string][] = [
  ['psi', '6894.757'],
  ['inHg', '3386.389'],
  ['inH2O', '249.0889'],
  ['mmH2O', '9.80665'],
  ['cmH2O', '98.0665'],
  ['mmHg', '133.3224'],
  ['Torr', '133.3224'],
  ['atm', '101325'],
  ['bar', '100000'],
  ['mbar', '100'],
  ['US gal', '0.003785412'],
  ['qt', '0.0009463529'],
  ['imp gal', '0.00454609'],
  ['in3', '0.00001638706'],
  ['lbf·ft', '1.355818'],
  ['lbf·in', '0.1129848'],
  ['lb', '0.4535924'],
  ['in', '0.0254'],
  ['ft', '0.3048'],
  ['gal/min', '0.00006309020'],
  ['lb/gal', '119.8264'],
]

describe('fromUnit: known values', () => {
  for (const [unit, si] of published) {
    it(`fromUnit(1, "${unit}") rounds to ${si} (NIST SP 811 B.8)`, () => {
      const digits = si.replace(/^0\.0*/, '').replace('.', '').length
      expect(Number(fromUnit(1, unit).toPrecision(digits))).toBe(Number(si))
    })
  }

  it('fromUnit(1, "psi") is 6894.757293 Pa to ten digits (NIST SP 811)', () => {
    expect(fromUnit(1, 'psi')).toBeCloseTo(6894.757293168, 8)
  })
  it('fromUnit(1, "lbf·ft") is 1.3558179483 N·m to eleven digits (NIST SP 811)', () => {
    expect(fromUnit(1, 'lbf·ft')).toBeCloseTo(1.3558179483314, 12)
  })
  it('fromUnit(68, "degF") is 293.15 K and fromUnit(32, "degF") 273.15 K (definition)', () => {
    expect(fromUnit(68, 'degF')).toBeCloseTo(293.15, 10)
    expect(fromUnit(32, '°F')).toBeCloseTo(273.15, 10)
    expect(fromUnit(20, 'degC')).toBe(293.15)
  })
  it('fromUnit(1, "degF", "temperature-difference") is 5/9 K (definition)', () => {
    expect(fromUnit(1, 'degF', 'temperature-difference')).toBe(5 / 9)
    expect(fromUnit(1, 'K', 'temperature-difference')).toBe(1)
  })
  it('fromUnit(1, "% per bar") is 1e-7 /Pa, and % per psi follows from psi (computed)', () => {
    expect(fromUnit(1, '% per bar')).toBe(1e-7)
    expect(fromUnit(1, '%/psi')).toBeCloseTo(0.01 / 6894.757293168, 15)
  })
})

describe('fromUnit and toUnit: laws', () => {
  it('toUnit undoes fromUnit for every unit in the table', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...unitTable),
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        (unit, value) => {
          const back = toUnit(fromUnit(value, unit.symbol, unit.dimension), unit.symbol, unit.dimension)
          return Math.abs(back - value) <= 1e-15 * (Math.abs(value) + Math.abs(unit.offset)) + 1e-300
        },
      ),
    )
  })
  it('no spelling stands for two units of one dimension', () => {
    const seen = new Map<string, string>()
    for (const unit of unitTable) {
      for (const spelling of [unit.symbol, ...unit.also]) {
        expect(findUnit(spelling, unit.dimension)?.unit.symbol).toBe(unit.symbol)
        seen.set(`${unit.dimension} ${spelling}`, unit.symbol)
      }
    }
    expect(seen.size).toBeGreaterThan(150)
  })
  it('unitsOf lists the units of one dimension only', () => {
    expect(unitsOf('torque')).toEqual(['N·m', 'lbf·ft', 'lbf·in'])
    expect(unitsOf('temperature')).toEqual(['degC', 'degF', 'K'])
  })
})

describe('findUnit: spellings of one unit', () => {
  const same: readonly [written: string, symbol: string][] = [
    ['PSI', 'psi'],
    ['Psi', 'psi'],
    ['KPA', 'kPa'],
    ['hpa', 'hPa'],
    ['inhg', 'inHg'],
    ['in-lb', 'lbf·in'],
    ['in lb', 'lbf·in'],
    ['lbf-ft', 'lbf·ft'],
    ['ft.lb', 'lbf·ft'],
    ['Nm', 'N·m'],
    ['N-m', 'N·m'],
    ['cm³', 'cm3'],
    ['℃', 'degC'],
    ['Ω', 'ohm'],
    ['SCCM', 'scc/min'],
    ['u.s. gal', 'US gal'],
    ['in H₂O', 'inH2O'],
    ['µm', 'µm'],
    ['um', 'µm'],
  ]
  for (const [written, symbol] of same) {
    it(`findUnit("${written}") is ${symbol}`, () => expect(findUnit(written)?.unit.symbol).toBe(symbol))
  }
  for (const written of ['psig', 'psi g', 'psi(g)', 'PSIG', 'psi gauge', 'bar(g)', 'barg', 'kPag']) {
    it(`findUnit("${written}") is a gauge pressure`, () => expect(findUnit(written)?.reference).toBe('gauge'))
  }
  for (const written of ['psia', 'psi(a)', 'bara', 'kPa abs', 'kPa absolute']) {
    it(`findUnit("${written}") is an absolute pressure`, () =>
      expect(findUnit(written)?.reference).toBe('absolute'))
  }
})

describe('findUnit: refuses', () => {
  for (const written of ['mPa', 'Mbar', 'ML', 'mpa', 'S', 'H', '', 'psii', 'furlong', 'cma']) {
    it(`findUnit("${written}") is null: not that unit in another case`, () =>
      expect(findUnit(written)).toBeNull())
  }
  it('unknownUnit names the nearest known unit', () => {
    expect(unknownUnit('pis')).toBe('unknown unit "pis"; the nearest known unit is "psi"')
    expect(nearestUnit('mb', 'pressure')).toBe('mbar')
    expect(nearestUnit('inhq')).toBe('inHg')
    expect(nearestUnit('degc', 'temperature')).toBe('degC')
  })
  it('unknownUnit says which dimension was needed', () => {
    expect(unknownUnit('psi', 'volume')).toBe(
      '"psi" is a unit of pressure; a volume is needed here (L, mL, m3, dm3, cm3, mm3)',
    )
  })
  it('fromUnit throws RangeError on a unit that is not in the table', () => {
    expect(() => fromUnit(1, 'furlong')).toThrow(RangeError)
    expect(() => toUnit(1, 'psi', 'volume')).toThrow(RangeError)
  })
})
