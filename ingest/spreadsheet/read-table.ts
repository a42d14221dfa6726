import { isUtf8 } from 'node:buffer'
import { gunzipSync } from 'node:zlib'
import { findUnit } from '#analysis/physics/units.ts'
import { readLabel } from '#ingest/intake/dialects/read-label.ts'
import { splitCells } from '#ingest/intake/dialects/split-cells.ts'
import type { UnreadableFile } from '#ingest/recording/unreadable-file.ts'

/** Error for an unusable file, with the line if there is one. */
export type Wrong = (problem: string, line?: number | null) => UnreadableFile

export interface TableRow {
  /** Line of the file, from 1. */
  readonly line: number
  readonly text: string
  readonly cells: readonly string[]
}

export interface TableColumn {
  /** Place of its cell in each row. */
  readonly index: number
  /** As in the file; `c1`, `c2`, … without a header. */
  readonly title: string
  readonly name: string
  readonly unit: string | null
}

/** The table of a file from a spreadsheet or a logger, as text. */
export type Table = Readonly<ReturnType<typeof readTable>>

export const cellOf = ({ cells }: TableRow, { index }: TableColumn): string => cells[index] ?? ''

const separators = ['\t', ';', ',', '|'] as const
/** Maximum lines of a quoted cell; a quote that stays open longer is a stray one. */
const longestCellLines = 5
/** A day at 10 Hz with ten columns unpacks to about 100 MB. */
const mostBytes = 1 << 28

/** @throws UnreadableFile when it has no table */
export function readTable(bytes: Uint8Array, wrong: Wrong) {
  const lines = textOf(bytes, wrong).split(/\r\n|\n|\r/)
  for (const separator of separators) {
    const all = rowsOf(lines, separator)
    const width = usualWidth(all)
    if (width < 2) continue
    const isRow = ({ cells }: TableRow) => cells.length === width && cells.some(beginsNumber)
    const isData = (row: TableRow) => isRow(row) && !isHeader(row)
    const first = all.find(isData)
    if (first === undefined) continue
    const begin = all.indexOf(first)
    const { titles, units } = headerAbove(all.slice(0, begin))
    if (titles !== null && titles.cells.length < width && titles.cells.length > 1) {
      const missing = first.cells.slice(titles.cells.length).some((cell) => cell !== '')
      if (missing)
        throw wrong(
          `names ${titles.cells.length} columns, and line ${first.line} has ${width}: a decimal comma and a separating comma cannot be told apart; export it with a semicolon or tab between the columns`,
          titles.line,
        )
    }
    const rows = [first, ...all.slice(begin + 1).filter(isData)] as const
    const decimalSign = decimalSignOf(rows, wrong)
    return {
      separator,
      decimalSign,
      hasHeader: titles !== null,
      columns: first.cells.map((_, i) => columnOf(titles?.cells[i], units?.cells[i], i)),
      rows,
      /** Lines outside the table: before it, within it and after it. */
      others: all.filter((row) => row !== titles && row !== units && !rows.includes(row)),
    }
  }
  throw wrong('no table found: no lines with the same column count, separated by tab, semicolon or comma')
}

function textOf(given: Uint8Array, wrong: Wrong): string {
  let bytes = given
  if (bytes[0] === 0x1f && bytes[1] === 0x8b) {
    try {
      bytes = gunzipSync(bytes, { maxOutputLength: mostBytes })
    } catch (cause) {
      throw wrong(`cannot be unpacked: ${(cause as Error).message}`)
    }
  }
  if (bytes.length === 0) throw wrong('is empty')
  if (bytes[0] === 0x50 && bytes[1] === 0x4b && bytes[2] === 3)
    throw wrong('is a workbook or a ZIP archive; save the sheet as CSV and import that')
  const order =
    bytes[0] === 0xff && bytes[1] === 0xfe
      ? 'utf-16le'
      : bytes[0] === 0xfe && bytes[1] === 0xff
        ? 'utf-16be'
        : null
  // Neither byte order mark nor UTF-8: the usual code page of old spreadsheets, which decodes the degree sign.
  const text = new TextDecoder(order ?? (isUtf8(bytes) ? 'utf-8' : 'windows-1252')).decode(bytes)
  if (text.includes('\0')) throw wrong('is not text: save it as CSV and import that')
  return text
}

function rowsOf(lines: readonly string[], separator: (typeof separators)[number]): TableRow[] {
  const rows: TableRow[] = []
  for (let at = 0; at < lines.length; at++) {
    const first = lines[at] ?? ''
    if (first.trim() === '') continue
    let text = first
    let cells = splitCells(text, separator)
    let taken = 1
    while (cells === null && taken < longestCellLines && at + taken < lines.length) {
      text += `\n${lines[at + taken++]}`
      cells = splitCells(text, separator)
    }
    if (cells === null) rows.push({ line: at + 1, text: first, cells: [first.trim()] })
    else {
      rows.push({ line: at + 1, text, cells })
      at += taken - 1
    }
  }
  return rows
}

/** The most frequent number of cells among lines with a number. */
function usualWidth(rows: readonly TableRow[]): number {
  const counts = new Map<number, number>()
  const numbered = rows.filter(({ cells }) => cells.some(beginsNumber))
  for (const { cells } of numbered) counts.set(cells.length, (counts.get(cells.length) ?? 0) + 1)
  const [width, count] = [...counts].reduce((a, b) => (b[1] > a[1] ? b : a), [0, 0])
  return count * 2 >= numbered.length ? width : 0
}

function beginsNumber(cell: string): boolean {
  return /^[+-]?[.,]?\d/.test(cell)
}

/** Whether most of its cells are words. */
function isHeader({ cells }: TableRow): boolean {
  const filled = cells.filter((cell) => cell !== '')
  return filled.length > 1 && filled.filter(beginsNumber).length * 3 <= filled.length
}

/** The row of titles above the data, and the optional row of units between. */
function headerAbove(above: readonly TableRow[]): { titles: TableRow | null; units: TableRow | null } {
  const last = above.at(-1)
  const before = above.at(-2)
  if (last === undefined || !isHeader(last)) return { titles: null, units: null }
  const areUnits = last.cells.every((cell) => cell === '' || isUnit(cell))
  return areUnits && before !== undefined && isHeader(before)
    ? { titles: before, units: last }
    : { titles: last, units: null }
}

function isUnit(cell: string): boolean {
  const bare = unbracketed(cell)
  return findUnit(bare) !== null || /^[hmsdy]{1,4}([:./ -][hmsdy]{1,4})*$/i.test(bare)
}

function unbracketed(cell: string): string {
  return cell.replace(/^[[(](.*)[\])]$/, '$1').trim()
}

function columnOf(title: string | undefined, unit: string | undefined, index: number): TableColumn {
  const clean = (title ?? '').replace(/^#\s*/, '').replace(/\s+/g, ' ').trim()
  if (clean === '') return { index, title: `c${index + 1}`, name: `c${index + 1}`, unit: null }
  const label = readLabel(clean)
  // `Pressure, psi` and `Pressure psi`: the last word may be the unit without a bracket.
  const [, before = '', last] = /^(.*\S)[,\s_]+(?:in )?(\S+)$/.exec(clean) ?? []
  const isBare = label.unit === null && last !== undefined && findUnit(last) !== null && last.length > 1
  return {
    index,
    title: clean,
    name: isBare ? before.replace(/,$/, '') : label.name,
    unit: unit ? unbracketed(unit) : isBare ? last : label.unit,
  }
}

/** @throws UnreadableFile when both signs are used, or a number could mean two things */
function decimalSignOf(rows: readonly TableRow[], wrong: Wrong): '.' | ',' {
  const firstWith = (pattern: RegExp) => {
    for (const { cells, line } of rows) {
      const cell = cells.find((one) => pattern.test(one))
      if (cell !== undefined) return { cell, line }
    }
    return null
  }
  const comma = firstWith(/^[+-]?\d*,\d+(e[+-]?\d+)?$/i)
  if (comma === null) return firstWith(/^[+-]?\d{1,3}(\.\d{3})*,\d+$/) ? ',' : '.'
  const point = firstWith(/^[+-]?\d*\.\d+(e[+-]?\d+)?$/i)
  if (point === null) return ','
  throw wrong(
    `"${comma.cell}" has a decimal comma and "${point.cell}" (line ${point.line}) a decimal point: export it with one of them`,
    comma.line,
  )
}
