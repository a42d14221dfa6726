import { afterEach, describe, expect, test } from 'vitest'
import {
  barometer,
  clock,
  digits,
  pressure,
  pressureDifference,
  temperature,
  twoFigures,
  withUnit,
} from '#dashboard/web/quantity.ts'
import { barometerUnit, pressureUnit, temperatureUnit } from '#dashboard/web/settings.ts'

afterEach(() => {
  pressureUnit.value = 'psi'
  temperatureUnit.value = 'degC'
})

describe('quantities on the page', () => {
  test('withUnit(68947.57293 Pa) is 10.000 psi, 276.80 inH2O, 20.360 inHg, 68.948 kPa, 0.6895 bar (NIST SP 811)', () => {
    const expected = {
      psi: '10.000 psi',
      inH2O: '276.80 inH2O',
      inHg: '20.360 inHg',
      kPa: '68.948 kPa',
      bar: '0.6895 bar',
    }
    for (const [unit, text] of Object.entries(expected)) {
      pressureUnit.value = unit as keyof typeof expected
      expect(withUnit(68_947.57293, pressure())).toBe(text)
    }
  })

  test('withUnit(293.15 K) is 20.00 °C and 68.00 °F: the offset of the scale counts', () => {
    expect(withUnit(293.15, temperature())).toBe('20.00 °C')
    temperatureUnit.value = 'degF'
    expect(withUnit(293.15, temperature())).toBe('68.00 °F')
  })

  test('barometer() has a unit of its own: 101325 Pa is 1013.3 hPa or 29.92 inHg (standard atmosphere)', () => {
    expect(withUnit(101_325, barometer())).toBe('1013.3 hPa')
    barometerUnit.value = 'inHg'
    expect(withUnit(101_325, barometer())).toBe('29.92 inHg')
    barometerUnit.value = 'hPa'
  })

  test('digits() writes a true minus, no negative zero, and a dash where there is no number', () => {
    expect(digits(-0.0543, 3)).toBe('−0.054')
    expect(digits(-0.0001, 3)).toBe('0.000')
    expect(digits(Number.NaN, 3)).toBe('–')
    expect(digits(null, 3)).toBe('–')
  })

  test('pressureDifference(null) is a dash: an interval that is not bounded yet arrives as null', () => {
    expect(pressureDifference(null)).toBe('–')
    expect(pressureDifference(689.4757)).toBe('0.100 psi')
  })

  test('clock() says times as people do', () => {
    expect(clock(245)).toBe('4:05')
    expect(clock(3729)).toBe('1:02:09')
  })

  test('twoFigures() keeps two figures of 0.00342, 1.234, 142.7 and 0, and no exponent', () => {
    expect([0.00342, 1.234, -0.0961, 12.4, 142.7, 0, 2.2e-7].map(twoFigures)).toEqual([
      '0.0034',
      '1.2',
      '−0.096',
      '12',
      '140',
      '0',
      '0.00000022',
    ])
  })
})
