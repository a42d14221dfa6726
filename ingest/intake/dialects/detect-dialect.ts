import { bareNumberDialect } from './bare-number.ts'
import { isBootBanner } from './boot-banner.ts'
import { csvDialect } from './csv.ts'
import type { Dialect, DialectName } from './dialect.ts'
import { jsonLinesDialect } from './json-lines.ts'
import { keyValueDialect } from './key-value.ts'
import { readNumber } from './read-number.ts'
import { type CsvSeparator, splitCells } from './split-cells.ts'

export interface Detection {
  /** `line-protocol` has no dialect object: its lines are points already. */
  readonly name: DialectName
  readonly dialect: Dialect | null
  /** What else the lines could mean and how to say so; null when there is no other reading of them. */
  readonly doubt: string | null
}

export interface DetectOptions {
  /** Whether a line is a point of line protocol. */
  isPoint(line: string): boolean
  /** The user's own word, which detection only fits to the lines. */
  readonly only?: DialectName | null
  /** No further line will come: one line must do where two would be better. */
  readonly final?: boolean
}

/**
 * Tells a logger's dialect from its first lines. Line protocol and JSON are known by one line; numbers in columns
 * or behind labels by two lines of the same shape, because the first may be the tail of a longer one.
 *
 * @returns null while the lines do not tell yet.
 */
export function detectDialect(lines: readonly string[], options: DetectOptions): Detection | null {
  const only = options.only ?? null
  const allowed = (name: DialectName) => only === null || only === name
  const worth = lines.filter((line) => line.trim() !== '' && !line.startsWith('#') && !isBootBanner(line))
  const enough = options.final === true ? 1 : 2

  if (allowed('line-protocol') && worth.some((line) => isPlainPoint(line) && options.isPoint(line)))
    return { name: 'line-protocol', dialect: null, doubt: null }
  if (allowed('json-lines')) {
    const dialect = jsonLinesDialect()
    if (worth.some((line) => dialect.read(line).kind === 'reading')) return found(jsonLinesDialect())
  }
  if (allowed('key-value') && agree(worth.map(keyValueShape), enough)) return found(keyValueDialect())
  for (const sign of ['.', ','] as const) {
    const name = sign === '.' ? 'number' : 'number-decimal-comma'
    if (sign === ',' && only !== name) continue
    if (allowed(name) && agree(worth.map(numberShape(sign)), enough)) return found(bareNumberDialect(sign))
  }
  return detectCsv(worth, only, enough)
}

function found(dialect: Dialect, doubt: string | null = null): Detection {
  return { name: dialect.name, dialect, doubt }
}

/** `p=1 t=2` is grammatical line protocol of a measurement `p=1`, but nobody means that. */
function isPlainPoint(line: string): boolean {
  const end = line.search(/[ ,]/)
  return end > 0 && !/[=:]/.test(line.slice(0, end))
}

/** True when `enough` of the shapes are the same; null is no shape. */
function agree(shapes: readonly (string | null)[], enough: number): boolean {
  const counts = new Map<string, number>()
  for (const shape of shapes) if (shape !== null) counts.set(shape, (counts.get(shape) ?? 0) + 1)
  return Math.max(0, ...counts.values()) >= enough
}

function keyValueShape(line: string): string | null {
  const outcome = keyValueDialect().read(line)
  return outcome.kind === 'reading' ? Object.keys(outcome.reading.fields).sort().join(' ') : null
}

function numberShape(sign: '.' | ','): (line: string) => string | null {
  return (line) => {
    const dialect = bareNumberDialect(sign)
    return dialect.read(line).kind === 'reading' ? (dialect.quantities[0].unit ?? '1') : null
  }
}

const separators: readonly CsvSeparator[] = [';', '\t', ',', ' ']

function detectCsv(lines: readonly string[], only: DialectName | null, enough: number): Detection | null {
  if (only !== null && only !== 'csv' && only !== 'csv-decimal-comma') return null
  for (const separator of separators) {
    const rows = lines.map((line) => splitCells(line, separator))
    for (const columns of new Set(rows.map((row) => row?.length ?? 0))) {
      if (columns < 2) continue
      const same = rows.map((row) => (row !== null && row.length === columns ? row : null))
      const commas = separator !== ',' && same.some((row) => row?.some((cell) => /^[+-]?\d+,\d+$/.test(cell)))
      const decimalSign = only === 'csv-decimal-comma' || (only === null && commas) ? ',' : '.'
      const isRow = (row: string[] | null) =>
        row?.some((cell) => typeof readNumber(cell, decimalSign) === 'number') ?? false
      if (same.filter(isRow).length < enough) continue
      const first = same.findIndex(isRow)
      const header = same.findIndex((row, i) => i < first && row !== null && isHeader(row))
      const dialect = csvDialect({
        separator,
        decimalSign,
        columns,
        header: header === -1 ? null : lines[header],
      })
      if (!lines.some((line) => dialect.read(line).kind === 'reading')) continue
      return found(dialect, doubtOf(separator, columns, header, lines))
    }
  }
  return null
}

function isHeader(row: readonly string[]): boolean {
  return row.every((cell) => /^[^\d+-]/.test(cell)) && new Set(row).size === row.length
}

function doubtOf(
  separator: CsvSeparator,
  columns: number,
  header: number,
  lines: readonly string[],
): string | null {
  if (separator !== ',' || columns !== 2 || header !== -1) return null
  if (!lines.every((line) => /^[+-]?\d+,\d+$/.test(line.trim()))) return null
  return 'read as two columns; if the comma is a decimal comma, choose the dialect number-decimal-comma'
}
