import { isoTime } from '#analysis/model/samples.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { duration, unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { RecordKind } from '../record.ts'
import { recordSubject, recordVerdict } from '../record-words.ts'
import { drawFacts, drawTable } from './fact-table.ts'
import { celsius, intervalWords, stated, utcMinute } from './figure-words.ts'
import { verdictTitles } from './hold-facts.ts'
import { drawAbout, drawHead, drawLastPart, drawVerdict, type ReportInput } from './report-parts.ts'
import { ink, type Sheet } from './sheet.ts'

const unitSuffixes: Readonly<Record<string, string>> = {
  Pa: 'Pa',
  K: 'K',
  s: 's',
  m: 'm',
  m3: 'm³',
  m3_per_s: 'm³/s',
  mol_per_s: 'mol/s',
  scc_per_min: 'scc/min',
  mL_per_min: 'mL/min',
  mL: 'mL',
  L: 'L',
  L_per_h: 'L/h',
  kg: 'kg',
  kg_per_m3: 'kg/m³',
  Nm: 'N·m',
  deg: '°',
  percent: '%',
}

/** The longest suffix of a key that names a unit: `m3_per_s`, not `s`. */
function suffixOf(key: string): string | undefined {
  return Object.keys(unitSuffixes)
    .sort((a, b) => b.length - a.length)
    .find((each) => key.endsWith(`_${each}`))
}

/** Keys shown elsewhere on the page; the sheet is the input of the result. */
const shownElsewhere = new Set(['stillhold', 'verdict', 'reasons', 'recording', 'sheet'])

/**
 * Lays out any kind of result: single values as facts, lists of similar objects as tables, estimates with
 * their interval, units taken from the suffixes of the names. Draws at the cursor.
 *
 * @param pressureUnit unit of displayed pressures
 */
export function drawResult(
  sheet: Sheet,
  result: Readonly<Record<string, unknown>>,
  pressureUnit: string,
): void {
  const { words, say } = wordsIn(pressureUnit)
  const facts: [string, string][] = []
  const tables: [string, Readonly<Record<string, unknown>>[]][] = []
  const walk = (value: Readonly<Record<string, unknown>>, prefix: string): void => {
    for (const [key, member] of Object.entries(value)) {
      if (prefix === '' && shownElsewhere.has(key)) continue
      const name = prefix === '' ? key : `${prefix} ${key}`
      if (member === null || member === undefined) continue
      if (isRow(member) && !('value' in member && 'low' in member)) walk(member, words(name).name)
      else if (Array.isArray(member) && member.length > 0 && member.every(isRow)) tables.push([name, member])
      else if (!(Array.isArray(member) && member.length === 0))
        facts.push([words(name).name, say(key, member)])
    }
  }
  walk(result, '')
  drawFacts(sheet, facts)
  for (const [key, rows] of tables) {
    sheet.need(50)
    sheet.y += 6
    sheet.paragraph(words(key).name, { face: 'medium', size: 8.5 }, 2)
    // An empty column would take space from one with values.
    const keys = [...new Set(rows.flatMap(Object.keys))]
      .filter((key) => rows.some((row) => row[key] != null && row[key] !== ''))
      .slice(0, 10)
    drawTable(
      sheet,
      Object.fromEntries(keys.map((each) => [words(each).title, 1])),
      rows.map((row) => keys.map((each) => (row[each] == null ? '' : say(each, row[each], false)))),
    )
  }
}

function isRow(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

/** Names and values in readable form: times as durations, pressures in the unit of the aircraft. */
function wordsIn(pressureUnit: string) {
  const say = (key: string, value: unknown, withUnit = true): string => {
    const { unit } = words(key)
    const after = withUnit && unit ? ` ${unit}` : ''
    if (typeof value === 'number') {
      if (suffixOf(key) === 's') return duration(value)
      if (key.endsWith('_Pa')) return `${stated(toUnit(value, pressureUnit, 'pressure'), 3)}${after}`
      if (key === 'at_K') return celsius(value)
      // Rounding residue counts as zero.
      return `${stated(Math.abs(value) < 1e-12 ? 0 : value, 4)}${after}`
    }
    if (key.endsWith('time_ns') && typeof value === 'string' && /^\d+$/.test(value))
      return utcMinute(isoTime(value))
    if (typeof value === 'boolean') return value ? 'yes' : 'no'
    if (Array.isArray(value)) return value.map((each) => say(key, each, false)).join(', ') + after
    if (isRow(value)) {
      const { value: middle, low, high } = value as { value?: unknown; low?: unknown; high?: unknown }
      if (typeof middle === 'number' && typeof low === 'number' && typeof high === 'number')
        return intervalWords({ value: middle, low, high }) + after
      return JSON.stringify(value)
    }
    return String(value)
  }
  /** `fuel_added_mL` → name `fuel added`, unit `mL`, title `fuel added [mL]`. */
  const words = (key: string): { name: string; unit: string | null; title: string } => {
    if (key.endsWith('time_ns')) return { name: 'time', unit: null, title: 'time' }
    const suffix = suffixOf(key)
    const name = (suffix ? key.slice(0, -suffix.length - 1) : key).replaceAll('_', ' ')
    // A duration carries its unit with each value, as does a temperature.
    if (!suffix || suffix === 's' || key === 'at_K') return { name, unit: null, title: name }
    const unit = suffix === 'Pa' ? pressureUnit : (unitSuffixes[suffix] ?? suffix)
    return { name, unit, title: `${name} [${unit}]` }
  }
  return { words, say }
}

/**
 * The reasons of a result, one sentence a line, at the cursor.
 *
 * @param printed earlier sentences of this document and their records: a repeated one becomes a reference
 */
export function drawReasons(
  sheet: Sheet,
  result: Readonly<Record<string, unknown>>,
  record = '',
  printed: Map<string, string> = new Map(),
): void {
  if (!Array.isArray(result.reasons) || result.reasons.length === 0) return
  const again: string[] = []
  for (const reason of result.reasons as readonly { code?: unknown; message?: unknown }[]) {
    if (typeof reason?.message !== 'string') continue
    const first = printed.get(reason.message)
    if (first === undefined) sheet.paragraph(reason.message, { size: 9 }, 2)
    else again.push(`${reason.code}, as in ${first}`)
    if (record !== '') printed.set(reason.message, first ?? record)
  }
  if (again.length > 0) sheet.paragraph(`Also ${again.join('; ')}.`, { size: 9 }, 2)
  sheet.y += 8
}

export const kindTitles: Readonly<Record<RecordKind, string>> = {
  hold: 'Pressure hold',
  wet: 'Fuelling check',
  level: 'Level sender calibration',
  flow: 'Fuel flow check',
  work: 'Work on a fitting',
  look: 'Look at a fitting',
  plug: 'Plug or cap',
  correction: 'Correction',
  acceptance: 'Acceptance of a record',
}

/** Draws the page of evidence other than a pressure hold, with a layout derived from its result. */
export function drawOtherPages(sheet: Sheet, input: ReportInput): void {
  const { record } = input
  const verdict = recordVerdict(record)
  const title = kindTitles[record.kind]
  drawHead(sheet, record.kind === 'correction' ? title : `Test report: ${title.toLowerCase()}`, record.id)
  if (verdict) drawVerdict(sheet, verdictTitles[verdict], `${title}: ${recordSubject(record)}`, ink[verdict])
  else drawVerdict(sheet, title, recordSubject(record), ink.text)
  drawAbout(sheet, record, 9, [record.system.name, `sealed ${record.sealed_at.slice(0, 10)}`])
  drawReasons(sheet, record.result as Readonly<Record<string, unknown>>)
  sheet.heading('Findings')
  drawResult(sheet, record.result as Readonly<Record<string, unknown>>, unitsOfSystem(input.system).pressure)
  sheet.y += 8
  drawLastPart(sheet, input)
}
