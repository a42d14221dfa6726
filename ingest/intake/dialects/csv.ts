import {
  type Dialect,
  type DialectQuantity,
  type LineOutcome,
  type ReadingValue,
  readingOf,
  refused,
} from './dialect.ts'
import { isTimeLabel, readOwnTime, uptimeField } from './own-time.ts'
import { readLabel } from './read-label.ts'
import { readNumber } from './read-number.ts'
import { type CsvSeparator, splitCells } from './split-cells.ts'

export interface CsvShape {
  readonly separator: CsvSeparator
  readonly decimalSign: '.' | ','
  /** The line that names the columns; null when the logger sends none and they are `c1`, `c2`, … */
  readonly header: string | null
  readonly columns: number
}

/**
 * Separated columns with a fixed count. A line with more or fewer cells is cut or merged, and is refused.
 * A text column stays text (`ok`); a word in a column of numbers is refused.
 */
export function csvDialect(shape: CsvShape): Dialect {
  const { separator, decimalSign, header } = shape
  const named = header === null ? null : (splitCells(header, separator) ?? []).map(readLabel)
  const quantities: DialectQuantity[] = Array.from({ length: shape.columns }, (_, i) => {
    const label = named?.[i]
    return label === undefined || label.name === '' ? { name: `c${i + 1}`, unit: null } : label
  })
  const names = new Set<string>()
  for (const [i, { name, unit }] of quantities.entries()) {
    const own = names.has(name) ? `${name}_${i + 1}` : name
    quantities[i] = { name: own, unit }
    names.add(own)
  }
  const numeric = new Array<boolean>(shape.columns).fill(false)
  const timeColumn = quantities.findIndex(({ name }) => isTimeLabel(name))

  function read(line: string): LineOutcome {
    if (header !== null && line.trim() === header.trim()) return { kind: 'header' }
    const cells = splitCells(line, separator)
    if (cells === null) return refused('a quote is not closed')
    if (cells.length !== shape.columns)
      return refused(`${cells.length} columns where ${shape.columns} are due`)
    const fields = new Map<string, ReadingValue>()
    const numbers: number[] = []
    let timeNs: bigint | null = null
    for (const [i, { name }] of quantities.entries()) {
      const cell = cells[i] ?? ''
      const value = readNumber(cell, decimalSign)
      if (i === timeColumn) {
        timeNs = readOwnTime(cell)
        if (timeNs === null && value !== null) fields.set(uptimeField, value ?? cell)
      } else if (value === null) {
      } else if (value !== undefined) {
        fields.set(name, value)
        numbers.push(i)
      } else if (!numeric[i] && /^[A-Za-z][\w .-]*$/.test(cell)) fields.set(name, cell)
      else return refused(`${name} is not a number`)
    }
    // A time since power-up is not a reading.
    if (numbers.length === 0) return refused('no number in it')
    for (const i of numbers) numeric[i] = true
    return readingOf(fields, timeNs)
  }

  const name = decimalSign === ',' ? 'csv-decimal-comma' : 'csv'
  return { name, namesEachValue: false, quantities, read, again: () => csvDialect(shape) }
}
