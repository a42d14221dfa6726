import { describe, expect, it } from 'vitest'
import type { HoldAnalysis, HoldResult, Meaning } from '#analysis/model/hold-result.ts'
import {
  celsius,
  conditionsWords,
  figure,
  fixed,
  grouped,
  intervalWords,
  pressureWords,
  stated,
  temperatureWords,
  utcMinute,
} from '#dashboard/archive/page/figure-words.ts'
import { holdFacts, verdictSentence } from '#dashboard/archive/page/hold-facts.ts'
import { drawReasons, drawResult } from '#dashboard/archive/page/result-facts.ts'
import { Sheet } from '#dashboard/archive/page/sheet.ts'

const none = Number.NaN

it.each<[string, string]>([
  // Significant digits, from the definition; a true minus sign, U+2212.
  ['0', figure(0)],
  ['–', figure(none)],
  ['–', figure(Number.POSITIVE_INFINITY)],
  ['0.128', figure(0.12784)],
  ['−0.128', figure(-0.12784)],
  ['12.8', figure(12.784)],
  ['128', figure(127.84)],
  ['1278', figure(1278.4)],
  ['1.3', figure(1.2784, 2)],
  ['0.0000128', figure(1.2784e-5)],
  ['1.28e−6', figure(1.2784e-6)],
  ['0.00001278', figure(1.27841e-5, 5)],
  ['1278400', figure(1.2784e6)],
  ['1.28e+7', figure(1.2784e7)],
  ['–', stated(none)],
  ['0', stated(0)],
  ['2.5', stated(2.5)],
  ['−2.5', stated(-2.5)],
  ['1.235', stated(1.23456)],
  ['1.2', stated(1.23456, 2)],
  ['1235000', stated(1_234_567)],
  ['9999000', stated(9_999_000)],
  ['1.000e+7', stated(1e7)],
  ['−1.000e+7', stated(-1e7)],
  ['0.00001', stated(1e-5)],
  ['9.900e−6', stated(9.9e-6)],
  [
    '0.13 scc/min (0.12 to 0.15)',
    intervalWords({ value: 0.13, low: 0.12, high: 0.15 }, 'scc/min').replaceAll(/(\.\d\d)0/g, '$1'),
  ],
  ['1.00 (−1.00 to 3.00)', intervalWords({ value: 1, low: -1, high: 3 })],
  ['–', fixed(none, 1)],
  ['1.3', fixed(1.26, 1)],
  ['−1.3', fixed(-1.26, 1)],
  ['0.0', fixed(-0.04, 1)],
  // 1 psi = 6894.757 Pa (NIST SP 811, appendix B).
  ['10 psi (68.95 kPa)', pressureWords(68_947.57, 'psi')],
  ['10 psi (69 kPa)', pressureWords(68_950, 'psi', 2)],
  ['0.145 psi (1 kPa)', pressureWords(1000, 'psi', 3)],
  ['0.1449 psi (999 Pa)', pressureWords(999, 'psi')],
  ['−0.1449 psi (−999 Pa)', pressureWords(-999, 'psi')],
  ['68.95 kPa', pressureWords(68_950, 'kPa')],
  ['500 Pa', pressureWords(500, 'Pa')],
  ['18.4 °C', celsius(291.55)],
  // 32 °F = 0 °C, 212 °F = 100 °C (definition).
  ['32.0 °F', temperatureWords(273.15, 'degF')],
  ['212.0 °F', temperatureWords(373.15, 'degF')],
  ['2026-04-11 09:30 UTC', utcMinute('2026-04-11T09:30:59.999Z')],
  ['0 °C, 101.325 kPa', conditionsWords('0 degC, 101.325 kPa')],
  ['60 °F', conditionsWords('60degF')],
  ['01234567 89abcdef 01', grouped('0123456789abcdef01')],
  ['0123 45', grouped('012345', 4)],
  ['', grouped('')],
])('a printed figure: %j', (text, said) => expect(said).toBe(text))

it.each<[string, Partial<HoldResult>]>([
  ['Section left leaks less than the allowance.', { verdict: 'pass' }],
  ['Section left leaks more than the allowance.', { verdict: 'fail' }],
  ['This hold proves nothing about section left.', { verdict: 'void' }],
  [
    'These data cannot tell whether section left leaks more than the allowance.',
    { verdict: 'undecided', needs_seconds_more: null },
  ],
  [
    'These data cannot tell yet; about 5 min more of the same hold would.',
    { verdict: 'undecided', needs_seconds_more: 300 },
  ],
  ['Sections left and right leak less than the allowance.', { verdict: 'pass', sections: ['left', 'right'] }],
  ['Sections a, b and c leak more than the allowance.', { verdict: 'fail', sections: ['a', 'b', 'c'] }],
  [
    'These data cannot tell whether sections a and b leak more than the allowance.',
    { verdict: 'undecided', needs_seconds_more: null, sections: ['a', 'b'] },
  ],
])('verdictSentence(): %s', (sentence, result) =>
  expect(verdictSentence({ sections: ['left'], ...result } as HoldResult)).toBe(sentence),
)

/** A fuel drop is 0.05 mL: 3 mL an hour are one a minute. 1 psi = 6894.757 Pa. */
it.each<[string, Partial<Meaning>]>([
  [
    '2.00 psi an hour, a hole of 14 µm, up to 3.0 mL of fuel an hour (1.0 drops a minute), assuming a; b',
    { equivalent_hole_m: 14e-6, fuel_mL_per_h: 3, drops_per_min: 1 },
  ],
  ['2.00 psi an hour, up to 3.0 mL of fuel an hour, assuming a; b', { fuel_mL_per_h: 3 }],
  ['2.00 psi an hour, assuming a; b', { fuel_mL_per_h: 0, drops_per_min: 0 }],
  ['', { drop_per_hour_Pa: 0, fuel_mL_per_h: 0 }],
])('holdFacts() says what a leak means: %j', (said, given) => {
  const none = { equivalent_hole_m: null, fuel_mL_per_h: null, drops_per_min: null }
  const meaning = {
    drop_per_hour_Pa: 2 * 6894.757,
    ...none,
    assumptions: ['a', 'b'],
    section: 'left',
    ...given,
  }
  const units = { pressure: 'psi', temperature: 'degC', volume: 'L' } as const
  const meant = (sections: readonly string[]) => {
    const stages = { source: 'marks', hold_ns: null }
    const result = {
      sections,
      stages,
      leak: null,
      allowance: { drop_Pa: 689 },
      raw_drop_Pa: null,
      seconds: 600,
    }
    const analysis = { meaning: [meaning], curves: [] } as unknown as HoldAnalysis
    return holdFacts(result as unknown as HoldResult, null, null, analysis, units).filter(([name]) =>
      name.startsWith('what it means'),
    )
  }
  expect(meant(['left'])).toEqual(said === '' ? [] : [['what it means', said]])
  expect(meant(['left', 'right'])).toEqual(said === '' ? [] : [['what it means for left', said]])
})

/** A sheet that keeps what is written on it. */
class ReadSheet extends Sheet {
  written: string[] = []
  override text(...given: Parameters<Sheet['text']>): number {
    this.written.push(given[0])
    return super.text(...given)
  }
}
const sheet = new ReadSheet({ title: '', subject: '', creator: '', writer: '', foot: '', date: new Date(0) })
function written(draw: (sheet: Sheet) => void): string[] {
  sheet.written = []
  draw(sheet)
  return sheet.written
}

describe('drawResult()', () => {
  const facts = (result: object, unit = 'psi') =>
    written((on) => drawResult(on, result as Readonly<Record<string, unknown>>, unit))
  it.each<[object, string[]]>([
    [{ stillhold: 1, verdict: 'pass', reasons: [], recording: 'a', sheet: { a: 1 } }, []],
    [{ inner: { verdict: 'pass', a: null } }, ['inner verdict', 'pass']],
    [{ fuel_added_mL: 1.23456 }, ['fuel added', '1.235 mL']],
    [{ rate_m3_per_s: 2 }, ['rate', '2 m³/s']],
    [{ leak_scc_per_min: { value: 1, low: 0.5, high: 2 } }, ['leak', '1.00 (0.500 to 2.00) scc/min']],
    [{ drop_Pa: 6894.757 }, ['drop', '1 psi']],
    [{ soak_s: 300 }, ['soak', '5 min']],
    [{ at_K: 291.55 }, ['at', '18.4 °C']],
    [{ spread_K: 0.2 }, ['spread', '0.2 K']],
    [{ residue_kg: 1e-13, other_kg: -2e-12 }, ['residue', '0 kg', 'other', '−2.000e−12 kg']],
    [{ time_ns: '1775898000000000000' }, ['time', '2026-04-11 09:00 UTC']],
    [{ time_ns: 'never' }, ['time', 'never']],
    [{ dry: true, wet: false }, ['dry', 'yes', 'wet', 'no']],
    [{ levels_mL: [1, 2.5], empty: [], absent: undefined }, ['levels', '1, 2.5 mL']],
    [{ list: [{ value: 1 }, 2] }, ['list', '{"value":1}, 2']],
  ])('%j reads %j', (result, text) => expect(facts(result)).toEqual(text))
  it('makes a table of a list of objects: units in its head, no empty column, ten columns at most', () => {
    const rows = [
      { id: 'F1', torque_Nm: 13.6, drop_Pa: 1000, none: null, blank: '', held_s: 60 },
      { id: 'F2', torque_Nm: null, drop_Pa: 2000 },
    ]
    expect(facts({ joints: rows }, 'kPa')).toEqual([
      'joints',
      ...['id', 'torque [N·m]', 'drop [kPa]', 'held'],
      ...['F1', '13.6', '1', '1 min'],
      ...['F2', '', '2', ''],
    ])
    const many = Object.fromEntries(Array.from({ length: 12 }, (_, i) => [`k${i}`, `v${i}`]))
    expect(facts({ many: [many] }).at(-1)).toBe('v9')
  })
})

it('drawReasons() prints each sentence once a document, and then names the record that has it', () => {
  const printed = new Map<string, string>()
  const said = (record: string, ...reasons: unknown[]) =>
    written((on) => drawReasons(on, { reasons }, record, printed))
  const [a, b] = ['a', 'b'].map((code) => ({ code, message: `Because of ${code}.` }))
  expect(said('0001', a)).toEqual(['Because of a.'])
  expect(said('0002', a, b, { code: 'c' }, null)).toEqual(['Because of b.', 'Also a, as in 0001.'])
  expect(said('0003', a, b)).toEqual(['Also a, as in 0001; b, as in 0002.'])
  expect(said('', { code: 'd', message: 'D.' })).toEqual(['D.'])
  expect(said('0004', { code: 'd', message: 'D.' })).toEqual(['D.'])
  expect(said('0005')).toEqual([])
})
