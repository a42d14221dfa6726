import { fieldsAtMost } from './dialect.ts'

export type CsvSeparator = ';' | '\t' | ',' | ' ' | '|'

/** One cell over the maximum shows that the line has too many. */
const cellsAtMost = fieldsAtMost + 1

/** Splits a line into trimmed cells; quotes protect separators, `""` is a quote. Null when a quote stays open. */
export function splitCells(line: string, separator: CsvSeparator): string[] | null {
  if (separator === ' ') return line.trim().split(/\s+/, cellsAtMost)
  if (!line.includes('"')) return line.split(separator, cellsAtMost).map((cell) => cell.trim())
  const cells: string[] = []
  let at = 0
  for (;;) {
    while (line[at] === ' ') at++
    let cell = ''
    if (line[at] === '"') {
      at++
      for (;;) {
        const close = line.indexOf('"', at)
        if (close === -1) return null
        cell += line.slice(at, close)
        at = close + 1
        if (line[at] !== '"') break
        cell += '"'
        at++
      }
    }
    const end = line.indexOf(separator, at)
    cells.push((cell + line.slice(at, end === -1 ? undefined : end)).trim())
    if (end === -1 || cells.length === cellsAtMost) return cells
    at = end + 1
  }
}
