import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'

const folder = new URL('../../../recordings/', import.meta.url)
const floatplane = systemFromFile(readFileSync(new URL('floatplane.yaml', folder), 'utf8'), 'floatplane.yaml')
const leftSide = systemFromFile(plainHold('line').system, 'left-side.yaml')

function demo(name: string): HoldResult[] {
  const recording = readRecording(readFileSync(new URL(name, folder)), floatplane, name)
  return analyzeRecording(recording, floatplane).map(({ result }) => result)
}

function plain(text: string): HoldResult[] {
  return analyzeRecording(readRecording(text, leftSide, 'bench.lp'), leftSide).map(({ result }) => result)
}

const tight = plainHold('line', { leak: 0.5 })

/** The same readings of a line full of avgas: what counts here is the shape of the answer. */
function wet(): HoldResult[] {
  const system = systemFromFile(
    tight.system.replace('left-feed, medium: air', 'left-feed, medium: avgas'),
    'wet.yaml',
  )
  const recording = readRecording(plainText(tight, 'line'), system, 'bench.lp')
  return analyzeRecording(recording, system).map(({ result }) => result)
}

const kinds: readonly (readonly [
  what: string,
  results: () => readonly HoldResult[],
  verdict: HoldResult['verdict'] | null,
])[] = [
  ['a pass', () => plain(plainText(tight, 'line')), 'pass'],
  ['a fail', () => demo('lines-leak.lp'), 'fail'],
  ['undecided', () => demo('lines-at-the-limit.lp'), 'undecided'],
  ['void, with its figures', () => demo('void-gap.lp'), 'void'],
  ['several sections', () => demo('valve-passing.lp'), 'fail'],
  ['a liquid', wet, null],
  [
    'a hold that the file does not have',
    () => plain(plainText(tight, 'line').replaceAll('left-feed-10psi', 'x')),
    'void',
  ],
  ['a hold without a sample', () => plain(plainText({ ...tight, rows: [] }, 'line')), 'void'],
  ['a hold without a mark', () => plain(plainText({ ...tight, marks: [] }, 'line')), 'pass'],
]

const keys = [
  'stillhold',
  'recording',
  'hold',
  'sections',
  'verdict',
  'reasons',
  'stages',
  'seconds',
  'leak',
  'allowance',
  'raw_drop_Pa',
  'needs_seconds_more',
  'fittings',
  'events',
  'proof',
  'supply',
]
const text = expect.any(String)
const stamp = (value: unknown): boolean => value === null || /^\d{19}$/.test(String(value))
const finiteOrNull = (value: unknown): boolean => value === null || Number.isFinite(value)

/** What contract section 5 says of one line of `analyze --json`. */
function check(line: string): void {
  const result = JSON.parse(line)
  expect(Object.keys(result)).toEqual(keys)
  expect(result).toMatchObject({ stillhold: 1, recording: text, hold: text })
  expect(result.sections).toEqual(expect.any(Array))
  expect(['pass', 'fail', 'undecided', 'void']).toContain(result.verdict)
  expect(result.reasons.length).toBeGreaterThan(0)
  for (const reason of result.reasons)
    expect(reason).toEqual({
      code: expect.stringMatching(/^[a-z-]+$/),
      values: expect.any(Object),
      message: text,
    })
  const { source, ...stages } = result.stages
  expect(['marks', 'pressure']).toContain(source)
  expect(Object.keys(stages)).toEqual(['pump_up_ns', 'settle_ns', 'hold_ns', 'vent_ns'])
  for (const value of Object.values(stages)) expect(stamp(value), `${value}`).toBe(true)
  expect(Number.isFinite(result.seconds)).toBe(true)
  for (const value of [result.raw_drop_Pa, result.needs_seconds_more, result.allowance.drop_Pa])
    expect(finiteOrNull(value), `${value}`).toBe(true)
  for (const leak of result.leak === null ? [] : [result.leak].flat()) checkLeak(leak, result)
  for (const { id, leaking } of result.fittings) {
    expect(id).toEqual(text)
    expect(leaking >= 0 && leaking <= 1, `${id} ${leaking}`).toBe(true)
  }
  for (const event of result.events)
    expect(event).toMatchObject({ time_ns: expect.stringMatching(/^\d{19}$/), section: text, message: text })
}

function checkLeak(
  leak: Record<string, { value: number; low: number; high: number; reference?: string }> & {
    section: string
  },
  { allowance }: HoldResult,
): void {
  const { section, ...figures } = leak
  expect(section).toEqual(text)
  const rates = 'mL_per_min' in figures ? ['mL_per_min'] : ['mol_per_s', 'scc_per_min']
  expect(Object.keys(figures).sort()).toEqual([...rates, 'drop_Pa'].sort())
  for (const [name, { value, low, high }] of Object.entries(figures)) {
    expect([value, low, high].every(Number.isFinite), name).toBe(true)
    expect(low <= value && value <= high, `${name} ${low} ${value} ${high}`).toBe(true)
  }
  for (const rate of rates) expect(allowance[rate as 'mol_per_s'], rate).toBeGreaterThan(0)
}

describe('JSON.stringify(analyzeRecording(…)) keeps contract section 5', () => {
  it.each(kinds)('%s', (_, results, verdict) => {
    const all = results()
    if (verdict !== null) expect(all.map((result) => result.verdict)).toContain(verdict)
    expect(all.length).toBeGreaterThan(0)
    for (const result of all) check(JSON.stringify(result))
  })
})

describe('the figures of one result agree with each other', () => {
  const [result] = plain(plainText(tight, 'line'))
  const leak = result.leak as Exclude<HoldResult['leak'], readonly unknown[] | null>

  it('scc/min is mol/s over 7.4358389e-7 (NIST, method.md section 5)', () => {
    for (const bound of ['value', 'low', 'high'] as const)
      expect((leak.mol_per_s?.[bound] ?? 0) / (leak.scc_per_min?.[bound] ?? 1) / 7.4358389e-7).toBeCloseTo(
        1,
        6,
      )
  })

  it('mol/s is drop · V / (R·T · hold time): 0.35 L, 600 s, 20 °C, R 8.314462618', () => {
    const molPerPa = 0.00035 / (8.314462618 * 293.15 * 600)
    expect((result.allowance.mol_per_s ?? 0) / result.allowance.drop_Pa / molPerPa).toBeCloseTo(1, 2)
    expect((leak.mol_per_s?.value ?? 0) / leak.drop_Pa.value / molPerPa).toBeCloseTo(1, 2)
  })

  it('the drop is that of the leak put in: half of 0.1 psi, 344.7 Pa', () => {
    expect(leak.drop_Pa.low).toBeLessThan(344.7)
    expect(leak.drop_Pa.high).toBeGreaterThan(344.7)
  })

  it('the fittings of a tight section each have a small probability, and those of others none', () => {
    const [{ verdict, fittings }] = plain(plainText(plainHold('line'), 'line'))
    expect(verdict).toBe('pass')
    expect(fittings.map(({ id }) => id).sort()).toEqual(['F01', 'F02'])
    for (const { leaking } of fittings) {
      expect(leaking).toBeGreaterThan(0)
      expect(leaking).toBeLessThan(0.02)
    }
  })

  it('a hold that the file does not have has no allowance', () => {
    const [unknown] = plain(plainText(tight, 'line').replaceAll('left-feed-10psi', 'x'))
    expect(JSON.parse(JSON.stringify(unknown.allowance))).toEqual({ drop_Pa: null })
  })
})
