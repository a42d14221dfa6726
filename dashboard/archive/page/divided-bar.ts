import type { BudgetShare } from '#analysis/model/hold-result.ts'
import { budgetParts, budgetTitle } from '#analysis/reasons/bench-words.ts'
import { contentWidth, ink, page, type Sheet } from './sheet.ts'

interface Part {
  readonly share: number
  readonly words: string
  readonly color: string
  /** Ink of the words, that of the bar when left out. */
  readonly textColor?: string
}

/** A bar divided in proportion, with a label for each part under it, at the cursor. */
export function drawDividedBar(sheet: Sheet, parts: readonly Part[]): void {
  if (parts.length === 0) return
  let x: number = page.left
  for (const { share, color } of parts) {
    const width = share * contentWidth
    sheet.doc.rect(x, sheet.y, Math.max(width - 1.5, 1), 9).fill(color)
    x += width
  }
  sheet.y += 13
  x = page.left
  for (const { words, color, textColor } of parts) {
    const style = { size: 8.5, face: 'medium' as const, color: textColor ?? color }
    const width = sheet.widthOf(words, style) + 12
    if (x > page.left && x + width > page.right) {
      x = page.left
      sheet.y += 12
    }
    sheet.doc.rect(x, sheet.y + 2, 6, 6).fill(color)
    sheet.line(words, x + 9, sheet.y, style)
    x += width + 8
  }
  sheet.y += 25
}

/** Inks of the shares, largest first. */
const shades = ['#1c2429', '#5b676e', '#9fadb5', '#c8d0d4', '#e2e7e9'] as const

/** The uncertainty budget of an interval, and what to improve first. */
export function drawBudget(sheet: Sheet, budget: readonly BudgetShare[]): void {
  const { shares, improve } = budgetParts(budget)
  const parts = shares.map(({ share, words }, i) => {
    return { share, words, color: shades[i] ?? shades[4], textColor: ink.text }
  })
  sheet.heading(budgetTitle, 80)
  drawDividedBar(sheet, parts)
  sheet.y -= 8
  sheet.paragraph(`Improve first: ${improve}.`, { size: 8.5 }, 8)
}
