import { contentWidth, ink, page, type Sheet, type TextStyle } from './sheet.ts'

export type Fact = readonly [name: string, value: string]

const gap = 20
const column = (contentWidth - gap) / 2
const nameWidth = 82
const valueStyle: TextStyle = { size: 8.5 }

/** Pairs of a name and what is said of it, in two columns of facts across the page, at the cursor. */
export function drawFacts(sheet: Sheet, facts: readonly Fact[]): void {
  for (let i = 0; i < facts.length; i += 2) {
    const row = facts.slice(i, i + 2)
    const height = rowHeight(sheet, row)
    sheet.need(height)
    row.forEach(([name, value], c) => {
      const x = page.left + c * (column + gap)
      sheet.text(name, x, sheet.y, nameWidth, { size: 8.5, color: ink.soft })
      sheet.text(value, x + nameWidth, sheet.y, column - nameWidth, valueStyle)
    })
    sheet.y += height
  }
}

export function factsHeight(sheet: Sheet, facts: readonly Fact[]): number {
  let height = 0
  for (let i = 0; i < facts.length; i += 2) height += rowHeight(sheet, facts.slice(i, i + 2))
  return height
}

function rowHeight(sheet: Sheet, row: readonly Fact[]): number {
  const heightOf = ([name, value]: Fact): number =>
    Math.max(sheet.height(value, column - nameWidth, valueStyle), sheet.height(name, nameWidth, valueStyle))
  return Math.max(...row.map(heightOf)) + 3
}

export interface Column {
  readonly title: string
  /** Share of the width. */
  readonly share: number
  readonly align?: 'left' | 'right'
}

export type Cell = string | { readonly text: string; readonly color: string; readonly face?: 'medium' }

/** A table with a hairline under its head, its head repeated where it runs over a page, at the cursor. */
export function drawTable(
  sheet: Sheet,
  columns: readonly Column[],
  rows: readonly (readonly Cell[])[],
): void {
  const total = columns.reduce((sum, column) => sum + column.share, 0)
  const between = 8
  const widths = columns.map((column) => (column.share / total) * (contentWidth + between) - between)
  const lefts = widths.map(
    (_, c) => page.left + widths.slice(0, c).reduce((sum, width) => sum + width + between, 0),
  )
  const size = 8
  const head = (): void => {
    columns.forEach((column, c) => {
      sheet.text(column.title, lefts[c], sheet.y, widths[c], {
        size: 7.5,
        color: ink.soft,
        align: column.align,
      })
    })
    sheet.y += 12
    sheet.rule(sheet.y)
    sheet.y += 3
  }
  sheet.need(30)
  head()
  for (const row of rows) {
    const cells = row.map((cell) => (typeof cell === 'string' ? { text: cell, color: ink.text } : cell))
    const height = Math.max(...cells.map((cell, c) => sheet.height(cell.text, widths[c], { size }))) + 2.5
    if (sheet.y + height > page.bottom) {
      sheet.newPage()
      head()
    }
    cells.forEach((cell, c) => {
      const face = 'face' in cell ? cell.face : undefined
      sheet.text(cell.text, lefts[c], sheet.y, widths[c], {
        size,
        color: cell.color,
        align: columns[c].align,
        face,
      })
    })
    sheet.y += height
  }
}
