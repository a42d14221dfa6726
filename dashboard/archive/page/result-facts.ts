import { drawFacts, drawTable } from './fact-table.ts'
import { figure, stated, utcMinute } from './figure-words.ts'
import { contentWidth, page, type Sheet } from './sheet.ts'

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

/** Keys that say what the page says elsewhere; the sheet is what the result was judged from. */
const shownElsewhere = new Set(['stillhold', 'verdict', 'reasons', 'recording', 'sheet'])

/**
 * Lays out any result whatever its kind: single values as facts, lists of alike objects as tables, estimates with
 * their interval, units taken from the ends of the names. Draws at the cursor.
 */
export function drawResult(sheet: Sheet, result: Readonly<Record<string, unknown>>): void {
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
    sheet.y =
      sheet.text(words(key).name, page.left, sheet.y + 6, contentWidth, { face: 'medium', size: 8.5 }) + 2
    // A column that no row fills takes the room of one that says something.
    const keys = [...new Set(rows.flatMap(Object.keys))]
      .filter((key) => rows.some((row) => row[key] != null && row[key] !== ''))
      .slice(0, 10)
    drawTable(
      sheet,
      keys.map((each) => ({ title: words(each).title, share: 1 })),
      rows.map((row) => keys.map((each) => (row[each] == null ? '' : say(each, row[each], false)))),
    )
  }
}

function isRow(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

function say(key: string, value: unknown, withUnit = true): string {
  const unit = withUnit && words(key).unit ? ` ${words(key).unit}` : ''
  // What rounding left of zero is zero.
  if (typeof value === 'number') return `${stated(Math.abs(value) < 1e-12 ? 0 : value, 4)}${unit}`
  if (key.endsWith('time_ns') && typeof value === 'string' && /^\d+$/.test(value))
    return utcMinute(new Date(Number(BigInt(value) / 1_000_000n)).toISOString())
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  if (Array.isArray(value)) return value.map((each) => say(key, each, false)).join(', ') + unit
  if (isRow(value)) {
    const { value: middle, low, high } = value as { value?: unknown; low?: unknown; high?: unknown }
    if (typeof middle === 'number' && typeof low === 'number' && typeof high === 'number') {
      return `${figure(middle)} (${figure(low)} to ${figure(high)})${unit}`
    }
    return JSON.stringify(value)
  }
  return String(value)
}

/** `fuel_added_mL` → name `fuel added`, unit `mL`, title `fuel added [mL]`. */
function words(key: string): { name: string; unit: string | null; title: string } {
  if (key.endsWith('time_ns')) return { name: 'time', unit: null, title: 'time' }
  for (const suffix of Object.keys(unitSuffixes).sort((a, b) => b.length - a.length)) {
    if (!key.endsWith(`_${suffix}`)) continue
    const name = key.slice(0, -suffix.length - 1).replaceAll('_', ' ')
    return { name, unit: unitSuffixes[suffix], title: `${name} [${unitSuffixes[suffix]}]` }
  }
  const name = key.replaceAll('_', ' ')
  return { name, unit: null, title: name }
}

/** The reasons of a result, a sentence a line, at the cursor. */
export function drawReasons(sheet: Sheet, result: Readonly<Record<string, unknown>>): void {
  if (!Array.isArray(result.reasons) || result.reasons.length === 0) return
  for (const reason of result.reasons as readonly { message?: unknown }[]) {
    if (typeof reason?.message !== 'string') continue
    sheet.need(sheet.height(reason.message, contentWidth, { size: 9 }))
    sheet.y = sheet.text(reason.message, page.left, sheet.y, contentWidth, { size: 9 }) + 2
  }
  sheet.y += 8
}
