import { contentWidth, ink, page, type Sheet, type TextStyle } from './sheet.ts'

export type Fact = readonly [name: string, value: string]

const gap = 20
const column = (contentWidth - gap) / 2
const nameWidth = 82
const valueStyle: TextStyle = { size: 8.5 }

/** Name and value pairs, in two columns across the page, at the cursor. */
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

export type Cell = string | { readonly text: string; readonly color: string; readonly face?: 'medium' }

/**
 * A table with a hairline under its head, which is repeated after a page break, at the cursor.
 *
 * @param columns share of the width by title
 * @param right title of a column that is aligned right
 * @param after space below it, [pt]
 */
export function drawTable(
  sheet: Sheet,
  columns: Readonly<Record<string, number>>,
  rows: readonly (readonly Cell[])[],
  { right, after = 0 }: { readonly right?: string; readonly after?: number } = {},
): void {
  const shares = Object.entries(columns)
  const total = shares.reduce((sum, [, share]) => sum + share, 0)
  const between = 8
  let used = 0
  const places = shares.map(([title, share]) => {
    const width = (share / total) * (contentWidth + between) - between
    const left = page.left + used
    used = used + width + between
    return { title, left, width, align: title === right ? ('right' as const) : undefined }
  })
  const size = 8
  const head = (): void => {
    for (const { title, left, width, align } of places)
      sheet.text(title, left, sheet.y, width, { size: 7.5, color: ink.soft, align })
    sheet.y += 12
    sheet.rule(sheet.y)
    sheet.y += 3
  }
  sheet.need(30)
  head()
  for (const row of rows) {
    const cells = places.map((place, c) => {
      const cell = row[c] ?? ''
      return { ...place, ...(typeof cell === 'string' ? { text: cell, color: ink.text } : cell) }
    })
    const height = Math.max(...cells.map(({ text, width }) => sheet.height(text, width, { size }))) + 2.5
    if (sheet.y + height > page.bottom) {
      sheet.newPage()
      head()
    }
    for (const { text, left, width, title: _, ...style } of cells)
      sheet.text(text, left, sheet.y, width, { size, ...style })
    sheet.y += height
  }
  sheet.y += after
}
