import { isBootBanner } from './boot-banner.ts'
import { csvDialect } from './csv.ts'
import { type Dialect, type DialectName, fieldsAtMost } from './dialect.ts'
import { jsonLinesDialect } from './json-lines.ts'
import { bareNumberDialect, keyValueDialect } from './key-value.ts'
import { readNumber } from './read-number.ts'
import { type CsvSeparator, splitCells } from './split-cells.ts'

export interface Detection {
  /** `line-protocol` has no dialect object: its lines are already points. */
  readonly name: DialectName
  readonly dialect: Dialect | null
  /** Another possible meaning of the lines and how to select it; null when there is none. */
  readonly doubt: string | null
}

export interface DetectOptions {
  /** Whether a line is a point of line protocol. */
  isPoint(line: string): boolean
  /** The user's choice of dialect; detection only fits it to the lines. */
  readonly only?: DialectName | null
}

/**
 * Detects a logger's dialect from its first lines. One line identifies line protocol and JSON. Columns and labelled
 * values need two lines of the same shape, because the first may be the tail of a longer one.
 */
export class DialectDetector {
  readonly #options: DetectOptions
  #lines: Held[] = []
  #dropped = 0

  constructor(options: DetectOptions) {
    this.#options = options
  }

  add(text: string): void {
    this.#lines.push({ text, candidate: null })
  }

  /** Discards the oldest lines: they identify no dialect. */
  drop(count: number): void {
    this.#lines.splice(0, count)
    this.#dropped += count
  }

  /**
   * @param final no more lines will come: one line is enough where two would be better
   * @returns null while the dialect is undecided
   */
  detect(final = false): Detection | null {
    // After this much garbage, only the newest lines are tried, and all lines once those match.
    const isGarbage = this.#dropped > garbageAfter && !final
    if (isGarbage && this.#detect(this.#lines.slice(-probed), final) === null) return null
    return this.#detect(this.#lines, final)
  }

  #detect(held: readonly Held[], final: boolean): Detection | null {
    const only = this.#options.only ?? null
    const enough = final ? 1 : 2
    const lines = held
      .map((line) => {
        line.candidate ??= candidate(line.text, this.#options)
        return line.candidate
      })
      .filter(({ kind }) => kind !== 'nothing')
    if (lines.some(({ kind }) => kind === 'point'))
      return { name: 'line-protocol', dialect: null, doubt: null }
    if (lines.some(({ kind }) => kind === 'json')) return found(jsonLinesDialect())
    if (agree(lines, (line) => line.keyValue, enough)) return found(keyValueDialect())
    if (agree(lines, (line) => line.number, enough))
      return found(bareNumberDialect(only === 'number-decimal-comma' ? ',' : '.'))
    return only === null || only === 'csv' || only === 'csv-decimal-comma'
      ? detectCsv(lines, only, enough)
      : null
  }
}

/** Discarded lines after which each try starts with only the newest `probed`. */
const garbageAfter = 1000
const probed = 6

/** A line with its memoized candidate: later tries use it again. */
interface Held {
  readonly text: string
  candidate: Candidate | null
}

/** What one line could be. A shape is null where it does not fit the line. */
interface Candidate {
  readonly text: string
  /** `nothing`: blank, a comment or a boot message. */
  readonly kind: 'point' | 'json' | 'other' | 'nothing'
  /** Names of its labelled values. */
  readonly keyValue: string | null
  /** Unit of its only number. */
  readonly number: string | null
  /** Its cells by separator, computed on demand. */
  readonly rows: Map<CsvSeparator, Row>
}

interface Row {
  readonly cells: readonly string[] | null
  readonly hasDecimalComma: boolean
  readonly hasNumber: Readonly<Record<'.' | ',', boolean>>
}

function candidate(text: string, { isPoint, only = null }: DetectOptions): Candidate {
  const allowed = (name: DialectName) => only === null || only === name
  const none = { text, keyValue: null, number: null, rows: new Map() }
  if (text.trim() === '' || text.startsWith('#') || isBootBanner(text)) return { ...none, kind: 'nothing' }
  if (allowed('line-protocol') && isPlainPoint(text) && isPoint(text)) return { ...none, kind: 'point' }
  const beginsObject = text.trimStart().startsWith('{')
  if (beginsObject && allowed('json-lines') && jsonLinesDialect().read(text).kind === 'reading')
    return { ...none, kind: 'json' }
  // At most a header: every reading has a digit.
  if (!/\d/.test(text)) return { ...none, kind: 'other' }
  const sign = only === 'number-decimal-comma' ? ',' : '.'
  const isNumber = allowed(sign === ',' ? 'number-decimal-comma' : 'number')
  return {
    ...none,
    kind: 'other',
    keyValue: allowed('key-value') ? keyValueShape(text) : null,
    number: isNumber ? numberShape(text, sign) : null,
  }
}

function found(dialect: Dialect, doubt: string | null = null): Detection {
  return { name: dialect.name, dialect, doubt }
}

/** `p=1 t=2` is grammatical line protocol of a measurement `p=1`, but nobody means that. */
function isPlainPoint(line: string): boolean {
  const end = line.search(/[ ,]/)
  return end > 0 && !/[=:]/.test(line.slice(0, end))
}

/** True when `enough` of the lines have the same shape. */
function agree(
  lines: readonly Candidate[],
  shapeOf: (line: Candidate) => string | null,
  enough: number,
): boolean {
  const counts = new Map<string, number>()
  for (const line of lines) {
    const shape = shapeOf(line)
    if (shape === null) continue
    const count = (counts.get(shape) ?? 0) + 1
    if (count >= enough) return true
    counts.set(shape, count)
  }
  return false
}

function keyValueShape(line: string): string | null {
  if (!/[=:]/.test(line)) return null
  const outcome = keyValueDialect().read(line)
  return outcome.kind === 'reading' ? Object.keys(outcome.reading.fields).sort().join(' ') : null
}

/** A number and its unit; a longer line is something else. */
const longestNumber = 100

function numberShape(line: string, sign: '.' | ','): string | null {
  if (line.length > longestNumber) return null
  const dialect = bareNumberDialect(sign)
  return dialect.read(line).kind === 'reading' ? (dialect.quantities[0]?.unit ?? '1') : null
}

const separators: readonly CsvSeparator[] = [';', '\t', ',', ' ']

function rowOf({ text, rows }: Candidate, separator: CsvSeparator): Row {
  let row = rows.get(separator)
  if (row === undefined) {
    const cells = splitCells(text, separator)
    const hasDigit = /\d/.test(text)
    const has = (isIt: (cell: string) => boolean) => hasDigit && (cells?.some(isIt) ?? false)
    row = {
      cells,
      hasDecimalComma: separator !== ',' && has((cell) => /^[+-]?\d+,\d+$/.test(cell)),
      hasNumber: {
        '.': has((cell) => typeof readNumber(cell, '.') === 'number'),
        ',': has((cell) => typeof readNumber(cell, ',') === 'number'),
      },
    }
    rows.set(separator, row)
  }
  return row
}

function detectCsv(lines: readonly Candidate[], only: DialectName | null, enough: number): Detection | null {
  if (!lines.some(({ text }) => /\d/.test(text))) return null
  for (const separator of separators) {
    for (const columns of new Set(lines.map((line) => rowOf(line, separator).cells?.length ?? 0))) {
      if (columns < 2 || columns > fieldsAtMost) continue
      const same = lines.filter((line) => rowOf(line, separator).cells?.length === columns)
      const commas = same.some((line) => rowOf(line, separator).hasDecimalComma)
      const decimalSign = only === 'csv-decimal-comma' || (only === null && commas) ? ',' : '.'
      const isRow = (line: Candidate) => rowOf(line, separator).hasNumber[decimalSign]
      if (same.filter(isRow).length < enough) continue
      const first = same.findIndex(isRow)
      const header = same.slice(0, first).find((line) => isHeader(rowOf(line, separator).cells ?? []))
      const dialect = csvDialect({ separator, decimalSign, columns, header: header?.text ?? null })
      if (!same.some((line) => dialect.read(line.text).kind === 'reading')) continue
      return found(dialect, only === null && header === undefined ? doubtOf(separator, columns, lines) : null)
    }
  }
  return null
}

function isHeader(row: readonly string[]): boolean {
  return row.every((cell) => /^[^\d+-]/.test(cell)) && new Set(row).size === row.length
}

function doubtOf(separator: CsvSeparator, columns: number, lines: readonly Candidate[]): string | null {
  if (separator !== ',' || columns !== 2) return null
  if (!lines.every(({ text }) => /^[+-]?\d+,\d+$/.test(text.trim()))) return null
  return 'read as two columns; if the comma is a decimal comma, choose the dialect number-decimal-comma'
}
