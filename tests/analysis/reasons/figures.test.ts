import { describe, expect, test } from 'vitest'
import { duration, figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

describe('duration(seconds)', () => {
  test.each([
    [0.4, '0.4 s'],
    [40, '40 s'],
    [60, '1 min'],
    [100, '1 min 40 s'],
    [600, '10 min'],
    [5399, '1 h 30 min'],
    [4 * 3600 + 20 * 60, '4 h 20 min'],
    [28_800, '8 h'],
  ])('%d s reads %s (law: the same words everywhere)', (seconds, words) =>
    expect(duration(seconds)).toBe(words),
  )
})

describe('figuresIn(units)', () => {
  const psi = figuresIn({ pressure: 'psi', temperature: 'degF', volume: 'US gal' })
  test('pressure of 68947.57 Pa is 10 psi (NIST SP 811)', () =>
    expect(psi.pressure(68_947.57293)).toBe('10 psi'))
  test('kelvins of 0.5 K is 0.9 °F (exact)', () => expect(psi.kelvins(0.5)).toBe('0.9 °F'))
  test('bound takes the digits that tell it from its limit: 690.2 Pa against 689.48 Pa is not "0.1 against 0.1"', () => {
    expect(psi.bound(690.2, 689.4757)).toBe('0.1001 psi')
    expect(psi.bound(689.4757, 690.2)).toBe('0.1 psi')
  })
})

test('unitsOfSystem() takes the units of the section: psi and °F (contract section 3)', () => {
  const system = systemFromFile(
    `stillhold: 1
name: a
channels:
  - { id: p, measures: gauge-pressure, section: s, from: { measurement: l, field: p }, unit: psi }
  - { id: t, measures: temperature, section: s, from: { measurement: l, field: t }, unit: degF }
sections:
  - { id: s, medium: air, volume: 1 L }
`,
    'a.yaml',
  )
  expect(unitsOfSystem(system, ['s'])).toEqual({ pressure: 'psi', temperature: 'degF', volume: 'L' })
  expect(unitsOfSystem(null)).toEqual({ pressure: 'kPa', temperature: 'degC', volume: 'L' })
})
