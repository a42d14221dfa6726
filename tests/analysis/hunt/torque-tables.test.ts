import { expect, test } from 'vitest'
import { rangeWords, torqueRange, torqueWords } from '#analysis/hunt/torque-tables.ts'
import type { Fitting } from '#analysis/model/system.ts'

const fitting = (changes: Partial<Fitting>): Fitting => ({
  id: 'F',
  section: 's',
  kind: 'flare',
  size: null,
  name: '',
  material: null,
  torqueNm: null,
  behind: [],
  ...changes,
})

test.each([
  ['flare', '-4', 'aluminium', 50, 65],
  ['flare', '-6', 'aluminium', 100, 125],
  ['flare', '-6', 'steel', 270, 300],
  ['flare', '-8', 'aluminium', 210, 250],
  ['flare', '-12', 'aluminium', 425, 500],
  ['flare', '-20', 'aluminium', 680, 800],
  ['flare', '-4', 'steel', 135, 150],
  ['flare', '-10', 'steel', 650, 700],
  ['flare', '-16', 'steel', 1200, 1400],
  ['flare', '-20', 'steel', 1200, 1400],
  ['hose-end', '-20', null, 950, 1150],
  ['flare', '-8', 'steel', 450, 500],
  ['flare', '-10', 'aluminium', 300, 350],
  ['flare', '-12', 'steel', 900, 1000],
  ['flare', '-16', 'aluminium', 600, 700],
  ['hose-end', '-4', null, 100, 120],
  ['hose-end', '-6', null, 210, 250],
  ['hose-end', '-8', 'aluminium', 340, 420],
  ['hose-end', '-10', 'steel', 400, 480],
  ['hose-end', '-12', null, 725, 850],
  ['hose-end', '-16', null, 900, 1150],
] as const)(
  'torqueRange(%s %s %s) is %d to %d in·lb (TM 55-1520-240-23-1, 1-13)',
  (kind, size, material, low, high) => {
    const range = torqueRange(fitting({ kind, size, material }))!
    expect(range.lowNm / 0.112984829).toBeCloseTo(low, 6)
    expect(range.highNm / 0.112984829).toBeCloseTo(high, 6)
    expect([range.threads, range.read]).toEqual(['lubricated', true])
  },
)

test('torqueRange() of a flare on a tube of unstated metal, and of a −3 hose nut, is unknown (refuses)', () => {
  expect(torqueRange(fitting({ size: '-6' }))).toBeNull()
  expect(torqueRange(fitting({ kind: 'hose-end', size: '-3' }))).toBeNull()
})

test('rangeWords() says what the table is for, the threads and the source; torqueWords() every unit a wrench reads', () => {
  const range = torqueRange(fitting({ kind: 'hose-end', size: '-10' }))!
  expect(rangeWords(range)).toBe(
    '45.2 to 54.2 N·m, 400 to 480 in·lb (hose nut, threads lubricated, TM 55-1520-240-23-1, 1-13)',
  )
  expect(torqueWords(13.5582)).toBe('13.6 N·m (120 in·lb, 10.0 ft·lb)')
})
