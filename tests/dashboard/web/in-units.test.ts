import { afterEach, describe, expect, test } from 'vitest'
import { inUnits } from '#dashboard/web/in-units.ts'
import { pressureUnit, temperatureUnit, volumeUnit } from '#dashboard/web/settings.ts'

afterEach(() => {
  pressureUnit.value = 'psi'
  temperatureUnit.value = 'degC'
  volumeUnit.value = 'L'
})

describe('inUnits(sentence)', () => {
  test('turns 0.1 psi into 0.689 kPa and 2.77 inH2O (NIST SP 811), both ends of an interval too', () => {
    pressureUnit.value = 'kPa'
    expect(
      inUnits('rig: the drop lies between -2.05 and 1.23 psi, and the allowance of 0.1 psi between them.'),
    ).toBe('rig: the drop lies between −14.1 and 8.48 kPa, and the allowance of 0.689 kPa between them.')
    pressureUnit.value = 'inH2O'
    expect(inUnits('0.1 psi')).toBe('2.77 inH2O')
    expect(inUnits('from 0.5 to 1.5 psi')).toBe('from 13.8 to 41.5 inH2O')
    expect(inUnits('opens at 1.5 ± 0.5 psi')).toBe('opens at 41.5 ± 13.8 inH2O')
  })

  test('leaves the figures of what stands in the wanted unit as they are, but for a true minus sign', () => {
    expect(inUnits('between -0.654 and 0.301 psi; 12.50 psi')).toBe('between −0.654 and 0.301 psi; 12.50 psi')
  })

  test('turns kelvins, which are differences in all sentences, into °C or °F; liters into US gallons', () => {
    expect(inUnits('a change of 2 K is allowed for')).toBe('a change of 2 °C is allowed for')
    temperatureUnit.value = 'degF'
    expect(inUnits('drifts by 0.5 K an hour')).toBe('drifts by 0.9 °F an hour')
    volumeUnit.value = 'US gal'
    expect(inUnits('The tank holds 66.0 L (65.1 to 66.9), 37.9 L/h')).toBe(
      'The tank holds 17.4 US gal (17.2 to 17.7), 10 US gal/h',
    )
  })

  test('says a pressure once where a sentence gives it in two units', () => {
    pressureUnit.value = 'bar'
    expect(inUnits('can raise it by up to 14.5 psi (100 kPa)')).toBe('can raise it by up to 1 bar')
    expect(inUnits('within 12.5 mmH2O (0.018 psi, 123 Pa).')).toBe('within 0.00123 bar.')
  })

  test('touches no name of a hold, no standard, no rate and no reference of a standard volume', () => {
    pressureUnit.value = 'kPa'
    for (const text of [
      'rig-10psi passed',
      'ASTM E2930 advises 0.25',
      '0.2 scc/min',
      '10 psi/s',
      'stretch of 15 % per bar',
      'F12 kPa-gauge',
    ])
      expect(inUnits(text)).toBe(text)
  })
})
