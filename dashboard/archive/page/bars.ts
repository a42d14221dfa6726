import type { BudgetShare, SectionLeak } from '#analysis/model/hold-result.ts'
import { budgetParts, budgetTitle } from '#analysis/reasons/bench-words.ts'
import { niceTicks } from './charts.ts'
import { figure, fixed, stated } from './figure-words.ts'
import { type Bar, leakBar, type PrintedHold } from './hold-facts.ts'
import { contentWidth, ink, page, type Sheet } from './sheet.ts'

const height = 62

/** The leak of one section as a bar, with its numbers over it when `titled`; nothing without an allowance. */
export function drawLeak(sheet: Sheet, one: PrintedHold, leak: SectionLeak, titled: boolean): void {
  const bar = leakBar(leak, one.result, one.hold?.allow ?? null, one.unit)
  if (!(bar.allowance > 0)) return
  if (titled) {
    sheet.need(80)
    const where = one.result.sections.length > 1 ? ` of ${bar.section}` : ''
    const what = bar.unit.endsWith('/min') ? 'Leak' : 'Pressure lost by leakage alone'
    const interval = `between ${figure(bar.low)} and ${figure(bar.high)} ${bar.unit}`
    const title = `${what}${where}: ${figure(bar.value)} ${bar.unit}, and with 95 % confidence ${interval}`
    sheet.paragraph(title, { size: 8.5, color: ink.soft }, 6)
  }
  drawIntervalBar(sheet, bar, one.accent)
  if (titled) sheet.y += 8
}

/**
 * The leak's 95 % interval on an axis from below zero to beyond the allowance: a bar entirely in
 * the shaded region left of the allowance passes. Draws at the cursor.
 */
function drawIntervalBar(sheet: Sheet, bar: Bar, accent: string): void {
  const { doc } = sheet
  const low = Math.min(0, bar.low, bar.value) - bar.allowance * 0.05
  // A leak far beyond the allowance is clipped at the edge with an arrow, so that the allowance stays visible.
  const farthest = Math.max(bar.allowance * 1.35, Math.min(bar.high * 1.08, bar.allowance * 8))
  const x = (value: number): number =>
    page.left + (Math.min(Math.max(value, low), farthest) - low) * (contentWidth / (farthest - low))
  const middle = sheet.y + 27
  const edge = x(bar.allowance)

  doc.rect(page.left, middle - 11, edge - page.left, 22).fill(ink.wash)
  sheet.stroke(1, ink.text, edge, middle - 15, edge, middle + 15)
  const label = `allowance ${stated(bar.allowance, 3)} ${bar.unit}`
  const width = sheet.widthOf(label, { size: 8, face: 'medium' })
  const at = Math.min(Math.max(edge, page.left + width / 2), page.right - width / 2)
  sheet.line(label, at, sheet.y - 1, { size: 8, face: 'medium', align: 'center' })

  doc.lineCap('butt').lineWidth(7).strokeColor(accent)
  const [from, to] = [x(bar.low), Math.max(x(bar.high), x(bar.low) + 1.5)]
  doc.moveTo(from, middle).lineTo(to, middle).stroke()
  if (bar.high > farthest) {
    doc
      .moveTo(page.right - 9, middle - 7)
      .lineTo(page.right, middle)
      .lineTo(page.right - 9, middle + 7)
      .fill(accent)
  }
  doc.circle(x(bar.value), middle, 2.1).fill('#ffffff')

  const ticks = niceTicks(low, farthest, 7)
  const floor = middle + 15
  sheet.stroke(0.6, ink.soft, page.left, floor, page.right, floor)
  for (const value of ticks.values) {
    sheet.stroke(0.6, ink.soft, x(value), floor, x(value), floor + 3)
    const last = value === ticks.values.at(-1)
    const text = fixed(value, ticks.decimals)
    sheet.line(text, x(value), floor + 5, { size: 7.5, color: ink.soft, align: 'center' })
    if (last) {
      const beside = x(value) + sheet.widthOf(text, { size: 7.5 }) / 2 + 3
      if (beside + sheet.widthOf(bar.unit, { size: 7.5 }) < page.right) {
        sheet.line(bar.unit, beside, floor + 5, { size: 7.5, color: ink.soft })
      }
    }
  }
  sheet.y += height
}

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
