import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { parseQuantity, parseRange, type Quantity } from '#analysis/physics/quantity.ts'
import { unitTable } from '#analysis/physics/unit-table.ts'
import { fromUnit } from '#analysis/physics/units.ts'

function read(text: string): Quantity {
  const quantity = parseQuantity(text)
  if ('fault' in quantity) throw new Error(quantity.fault)
  return quantity
}

function fault(
  text: string,
  ...rest: Parameters<typeof parseQuantity> extends [string, ...infer R] ? R : never
) {
  const quantity = parseQuantity(text, ...rest)
  return 'fault' in quantity ? quantity.fault : null
}

describe('parseQuantity: what people write', () => {
  it('parseQuantity("10 psi") is 68947.57 Pa, a pressure without tolerance', () => {
    const quantity = read('10 psi')
    expect(quantity.value).toBeCloseTo(68947.57293, 4)
    expect(quantity.tolerance).toBeNull()
    expect(quantity.dimension).toBe('pressure')
  })
  for (const text of [
    '0.35 L ± 10 %',
    '0.35 L +/- 10%',
    '0.35L±10 %',
    '0.35 L ± 0.035 L',
    '350 mL ± 0.035 L',
  ]) {
    it(`parseQuantity("${text}") is 0.35 L give or take 35 mL`, () => {
      expect(read(text).value).toBeCloseTo(0.35e-3, 18)
      expect(read(text).tolerance).toBeCloseTo(35e-6, 18)
    })
  }
  it('parseQuantity("0.35 ± 0.02 L") takes one unit for both numbers', () => {
    expect(read('0.35 ± 0.02 L').value).toBe(0.35e-3)
    expect(read('0.35 ± 0.02 L').tolerance).toBe(0.02e-3)
  })
  for (const text of ['0,35 L ± 10 %', '0,35 L ± 0,035 L', ',35 L +/- 35,0 mL', '3,5e2 mL ± 10 %']) {
    it(`parseQuantity("${text}") reads decimal commas: 0.35 L give or take 35 mL`, () => {
      expect(read(text).value).toBeCloseTo(0.35e-3, 18)
      expect(read(text).tolerance).toBeCloseTo(35e-6, 18)
    })
  }
  it('parseQuantity("1,500 psi") asks whether the comma marks thousands; "0,500 psi" and "1,5 psi" are clear', () => {
    const asked = 'the comma may mark thousands or decimals; write 1500 or 1.500'
    expect(fault('1,500 psi')).toBe(`"1,500 psi": ${asked}`)
    expect(fault('0.2 psi ± 1,500 psi')).toContain(asked)
    expect(read('0,500 psi').value).toBe(read('0.5 psi').value)
    expect(read('1,5 psi').value).toBe(read('1.5 psi').value)
    expect(fault('10, psi')).toContain(', psi')
  })
  it('parseQuantity(decimal point) and parseQuantity(decimal comma) are the same number', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 9999 }), fc.integer({ min: 0, max: 99 }), (whole, part) => {
        const digits = String(part).padStart(2, '0')
        expect(read(`${whole},${digits} kPa`)).toEqual(read(`${whole}.${digits} kPa`))
      }),
    )
  })
  it('parseRange("0,5 bar to 1,5 bar") reads both ends', () =>
    expect(parseRange('0,5 bar to 1,5 bar')).toMatchObject({ low: 50_000, high: 150_000 }))
  it('parseQuantity("20 degC") is 293.15 K', () => expect(read('20 degC').value).toBe(293.15))
  it('parseQuantity("20 degC ± 0.5 K") and "± 0.9 °F" have a tolerance of half a kelvin', () => {
    expect(read('20 degC ± 0.5 K').tolerance).toBe(0.5)
    expect(read('20 degC ± 0.9 °F').tolerance).toBeCloseTo(0.5, 15)
    expect(read('20 degC ± 0.5 degC').tolerance).toBe(0.5)
  })
  it('parseQuantity("-3 inHg") is a suction, with any minus sign', () => {
    expect(read('-3 inHg').value).toBeCloseTo(-10159.166, 3)
    expect(read('\u22123 inHg').value).toBe(read('-3 inHg').value)
  })
  it('parseQuantity("0.25 % of span") is a share of the span', () => {
    expect(read('0.25 % of span')).toMatchObject({ value: 0.0025, dimension: 'share-of-span' })
  })
  it('parseQuantity("0 % per bar") is a stretch of nothing', () => {
    expect(read('0 % per bar')).toMatchObject({ value: 0, dimension: 'stretch' })
    expect(read('5 % per bar').value).toBeCloseTo(5e-7, 20)
  })
  it('parseQuantity("0.2 scc/min") is a flow of standard gas', () => {
    expect(read('0.2 scc/min')).toMatchObject({ dimension: 'gas-flow' })
    expect(read('0.2 scc/min').value).toBeCloseTo(0.2e-6 / 60, 20)
  })
  it('parseQuantity("14 N·m") and "125 in-lb" are torques', () => {
    expect(read('14 N·m')).toMatchObject({ value: 14, dimension: 'torque' })
    expect(read('125 in-lb').value).toBeCloseTo(14.123, 3)
  })
  it('parseQuantity("25 psia") says that it is absolute', () => {
    expect(read('25 psia').reference).toBe('absolute')
    expect(read('25 psig').reference).toBe('gauge')
  })
  it('parseQuantity("0.1 K", "temperature-difference") is a difference', () => {
    expect(parseQuantity('0.1 K', 'temperature-difference')).toMatchObject({ value: 0.1 })
    expect(parseQuantity('2 min', 'time')).toMatchObject({ value: 120 })
  })
})

describe('parseQuantity: laws', () => {
  it('parseQuantity reads back what a number and a unit print as', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...unitTable),
        fc.double({ min: -1e9, max: 1e9, noNaN: true }),
        (unit, number) => {
          const quantity = parseQuantity(`${number} ${unit.symbol}`, unit.dimension)
          return !('fault' in quantity) && quantity.value === fromUnit(number, unit.symbol, unit.dimension)
        },
      ),
    )
  })
  it('parseQuantity never throws', () => {
    fc.assert(
      fc.property(fc.string(), (text) => {
        const quantity = parseQuantity(text)
        return 'fault' in quantity ? quantity.fault.length > 0 : Number.isFinite(quantity.value)
      }),
      { numRuns: 2000 },
    )
  })
})

describe('parseQuantity: refuses', () => {
  it('names the nearest known unit', () => {
    expect(fault('10 pis')).toBe('"10 pis": unknown unit "pis"; the nearest known unit is "psi"')
  })
  it('says which dimension is needed', () => {
    expect(fault('10 psi', 'time')).toContain('"psi" is a unit of pressure; a time is needed here (s, min, h')
  })
  it('asks for a unit', () => expect(fault('10')).toContain('has no unit'))
  it('refuses marks between thousands', () => {
    expect(fault('1.234,5 psi')).toBe(
      '"1.234,5 psi" has two separators in one number; write it without a thousands separator',
    )
  })
  it('refuses words, nothing, two tolerances and a bare ±', () => {
    expect(fault('about ten psi')).toContain('not a quantity')
    expect(fault('')).toContain('not a quantity')
    expect(fault('1 L ± 1 % ± 2 %')).toContain('more than one tolerance')
    expect(fault('1 L ±')).toContain('no number after ±')
  })
  it('refuses a percentage of a temperature', () => {
    expect(fault('20 degC ± 5 %')).toContain('has no meaning')
  })
  it('refuses a tolerance of another dimension', () => {
    expect(fault('1 L ± 2 psi')).toContain('"psi" is a unit of pressure; a volume is needed')
  })
  it('refuses a number too large for a number', () => expect(fault('1e999 psi')).toContain('not a quantity'))
})

describe('parseRange', () => {
  it('parseRange("0 psi to 30 psi") is the span of a transducer', () => {
    const range = parseRange('0 psi to 30 psi', 'pressure')
    expect(range).toMatchObject({ low: 0, dimension: 'pressure', unit: 'psi' })
    expect('high' in range && range.high).toBeCloseTo(206842.7188, 3)
  })
  it('parseRange("100 to 125 in·lb") takes the unit for both ends', () => {
    const range = parseRange('100 to 125 in·lb', 'torque')
    expect('low' in range && range.low).toBeCloseTo(11.298, 3)
  })
  it('parseRange("-1 bar to 1000 mbar") mixes units of one dimension', () => {
    expect(parseRange('-1 bar to 1000 mbar')).toMatchObject({ low: -1e5, high: 1e5 })
  })
  it('parseRange("14 N·m") is a range of no width', () => {
    expect(parseRange('14 N·m')).toMatchObject({ low: 14, high: 14 })
  })
  it('refuses a range that runs backwards, mixes dimensions or has a tolerance', () => {
    expect(parseRange('30 psi to 0 psi')).toHaveProperty('fault')
    expect(parseRange('0 L to 30 psi')).toHaveProperty('fault')
    expect(parseRange('0 psi to 30 psi ± 1 psi')).toHaveProperty('fault')
    expect(parseRange('0 psi to 3 psi to 30 psi')).toHaveProperty('fault')
  })
})
