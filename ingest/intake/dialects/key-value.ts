import {
  type Dialect,
  type DialectQuantity,
  fieldsAtMost,
  type LineOutcome,
  loggerMeasurement,
  type ReadingValue,
  readingOf,
  refused,
} from './dialect.ts'
import { isTimeLabel, readOwnTime, uptimeField } from './own-time.ts'
import { readLabel } from './read-label.ts'
import { readNumber } from './read-number.ts'

const valueWithUnit = /^([+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*([^\d\s.+-][^\s]*(?:\s[^\s\d]+)?)$/
const labelStart = /[A-Za-z_µ°]/
const blank = /\s/
/** Longest unit in brackets: the search for the closing bracket ends here. */
const longestUnit = 40

interface Label extends DialectQuantity {
  readonly isTime: boolean
}

/**
 * `p1=10.01 psi, t1=21.3 °C`, `p1[psi]=10.01 t1[degC]=21.3`, `pressure: 10.01`: labels before the values, units in
 * either. A repeated label means two merged lines: refused.
 */
export function keyValueDialect(): Dialect {
  const units = new Map<string, string | null>()
  const quantities: DialectQuantity[] = []
  /** Cache of labels by their spelling: lines repeat them. */
  const labels = new Map<string, Label>()

  function labelOf(written: string): Label {
    let label = labels.get(written)
    if (label === undefined) {
      const read = readLabel(written)
      label = { ...read, isTime: isTimeLabel(read.name) }
      if (labels.size < fieldsAtMost) labels.set(written, label)
    }
    return label
  }

  function read(line: string): LineOutcome {
    const fields = new Map<string, ReadingValue>()
    const seen = new Map<string, string | null>()
    let timeNs: bigint | null = null
    const text = line.trim()
    if (text === '') return refused('empty line')
    let count = 0
    for (let at = 0; at < text.length; ) {
      const equals = labelEnd(text, at)
      if (equals === -1) return refused(`no label=value at column ${at + 1}`)
      if (count++ === fieldsAtMost) return refused(`more than ${fieldsAtMost} labels`)
      const label = labelOf(text.slice(at, equals).trimEnd())
      if (seen.has(label.name) || fields.has(label.name)) return refused(`${label.name} comes twice`)
      const valueAt = afterBlanks(text, equals + 1)
      const valueEnd = endOfValue(text, valueAt)
      const raw = text.slice(valueAt, valueEnd).trimEnd()
      at = afterSeparator(text, valueEnd)
      if (label.isTime) {
        timeNs = readOwnTime(raw)
        if (timeNs === null) fields.set(uptimeField, readNumber(raw) ?? raw)
        continue
      }
      let value = readNumber(raw)
      let unit = label.unit
      const parted = value === undefined ? valueWithUnit.exec(raw) : null
      if (parted !== null) {
        value = readNumber(parted[1] ?? '')
        unit = parted[2] ?? null
      }
      if (value === undefined) {
        const word = readWord(raw)
        if (word === null) return refused(`${label.name} is not a number`)
        fields.set(label.name, word)
        continue
      }
      const before = units.get(label.name)
      if (before !== undefined && before !== unit && value !== null)
        return refused(`${label.name} was in ${before ?? 'no unit'} and is now in ${unit ?? 'no unit'}`)
      seen.set(label.name, unit)
      if (value !== null) fields.set(label.name, value)
    }
    const outcome = readingOf(fields, timeNs)
    if (outcome.kind === 'refused') return outcome
    for (const [name, unit] of seen) {
      if (units.has(name) || units.size >= fieldsAtMost) continue
      units.set(name, unit)
      quantities.push({ name, unit })
    }
    return outcome
  }

  return { name: 'key-value', namesEachValue: true, quantities, read, again: keyValueDialect }
}

/** Index of the `=` or `:` that ends the label at `at`; -1 when none begins there. */
function labelEnd(text: string, at: number): number {
  if (!labelStart.test(text.charAt(at))) return -1
  for (let i = at; i < text.length; i++) {
    const c = text[i]
    if (c === '=' || c === ':') return i
    if (c === ',' || c === ';' || c === '"') return -1
  }
  return -1
}

/** A value ends at a comma or semicolon, or at a blank before the next label; a quoted one at its quote. */
function endOfValue(text: string, from: number): number {
  let at = from
  if (text[from] === '"') {
    const close = text.indexOf('"', from + 1)
    if (close !== -1 && endsValue(text, close + 1)) return close + 1
  }
  while (at < text.length) {
    const c = text.charAt(at)
    if (c === ',' || c === ';') return at
    if (blank.test(c)) {
      const next = afterBlanks(text, at)
      if (at > from && beginsLabel(text, next)) return at
      at = next
    } else at++
  }
  return at
}

function endsValue(text: string, at: number): boolean {
  const next = afterBlanks(text, at)
  const c = text[next]
  return c === undefined || c === ',' || c === ';' || (next > at && beginsLabel(text, next))
}

/** Whether `t1=`, `t1 =`, `t1[degC]=` or `t1 [deg C] =` is at `at`. */
function beginsLabel(text: string, at: number): boolean {
  let end = at
  let bracket = -1
  for (; end < text.length; end++) {
    const c = text.charAt(end)
    if (c === '=' || c === ':') return end > at
    if (c === ',' || c === ';' || c === '"') return false
    if (blank.test(c)) break
    if (bracket === -1 && end > at && (c === '[' || c === '(')) bracket = end
  }
  const next = afterBlanks(text, end)
  if (text[next] === '=' || text[next] === ':') return end > at
  return hasUnit(text, next) || (bracket !== -1 && hasUnit(text, bracket))
}

/** Whether `[degC]=` or `(deg C) :` is at `at`. */
function hasUnit(text: string, at: number): boolean {
  if (text[at] !== '[' && text[at] !== '(') return false
  const close = text.slice(at, at + longestUnit).search(/[\])]/)
  if (close === -1) return false
  const next = afterBlanks(text, at + close + 1)
  return text[next] === '=' || text[next] === ':'
}

function afterBlanks(text: string, from: number): number {
  let at = from
  while (blank.test(text.charAt(at))) at++
  return at
}

function afterSeparator(text: string, from: number): number {
  const at = afterBlanks(text, from)
  return text[at] === ',' || text[at] === ';' ? afterBlanks(text, at + 1) : at
}

/** A quoted text, or a plain word such as `ok`; a word with a digit is a corrupted number. */
function readWord(raw: string): string | boolean | null {
  if (/^"[^"]*"$/.test(raw)) return raw.slice(1, -1)
  if (/^(?:true|false)$/i.test(raw)) return raw.toLowerCase() === 'true'
  return /^[A-Za-z][A-Za-z_-]*$/.test(raw) ? raw : null
}

const withUnit = /^([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([^\d\s.,+-]\S*)?$/

/** One number per line, with or without a unit: `10.01`, `10.01 psi`. It becomes the field `value`. */
export function bareNumberDialect(decimalSign: '.' | ','): Dialect {
  const quantities: { name: string; unit: string | null }[] = []
  return {
    name: decimalSign === ',' ? 'number-decimal-comma' : 'number',
    namesEachValue: false,
    quantities,
    again: () => bareNumberDialect(decimalSign),
    read(line) {
      const [, number = line, unit = null] = withUnit.exec(line.trim()) ?? []
      const value = readNumber(number, decimalSign)
      if (value === undefined) return refused('not a number')
      if (value === null) return refused('no number in it')
      const [known] = quantities
      if (known === undefined) quantities.push({ name: 'value', unit })
      else if (known.unit !== unit)
        return refused(`was in ${known.unit ?? 'no unit'} and is now in ${unit ?? 'no unit'}`)
      const reading = { measurement: loggerMeasurement, tags: {}, fields: { value }, timeNs: null }
      return { kind: 'reading', reading }
    },
  }
}
