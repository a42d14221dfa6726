import type { HoldCurves } from '#analysis/model/hold-result.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { fixed } from './figure-words.ts'
import { fromHoldStart } from './hold-facts.ts'
import type { PrintedHold } from './interval-bar.ts'
import { niceTicks } from './nice-ticks.ts'
import { ink, page, type Sheet } from './sheet.ts'

const labelWidth = 118
const axisWidth = 40

/**
 * Pressure over the hold: as read by the gauge (thin), compensated for temperature and weather (heavy), the fitted leak
 * (dashed), and the line of the allowance (dotted) with the region beyond it shaded: below, or above
 * under vacuum. Draws at the cursor.
 */
export function drawDecayChart(sheet: Sheet, one: PrintedHold, whole: HoldCurves, height: number): void {
  const { doc } = sheet
  const { unit, accent } = one
  const seconds = one.hold?.holdS ?? one.result.seconds
  const curves = fromHoldStart(whole)
  const left = page.left + axisWidth
  const right = page.right - labelWidth
  const top = sheet.y + 4
  const bottom = sheet.y + height - 24
  const shown = (pa: number): number => toUnit(pa, unit, 'pressure')
  const [start = Number.NaN] = curves.timeS
  const [startPa = Number.NaN] = curves.leakLinePa
  const endS = Math.max(seconds, (curves.timeS.at(-1) ?? start) - start)
  // A leak into a section under vacuum raises its pressure.
  const suction = startPa < 0
  const lossPa = suction ? -one.result.allowance.drop_Pa : one.result.allowance.drop_Pa
  const allowancePa = (t: number): number => startPa - (lossPa * t) / seconds

  const all = [...curves.gaugePa, ...curves.compensatedPa, ...curves.leakLinePa, startPa, allowancePa(endS)]
    .filter(Number.isFinite)
    .map(shown)
  const margin = (Math.max(...all) - Math.min(...all)) * 0.07 || 0.01
  const low = Math.min(...all) - margin
  const high = Math.max(...all) + margin
  const x = (t: number): number => left + (t / endS) * (right - left)
  const y = (pa: number): number => bottom - ((shown(pa) - low) / (high - low)) * (bottom - top)

  doc.save()
  doc
    .moveTo(x(0), y(startPa))
    .lineTo(x(endS), y(allowancePa(endS)))
    .lineTo(x(endS), suction ? top : bottom)
    .lineTo(x(0), suction ? top : bottom)
    .fill(ink.wash)
  drawAxes(sheet, { left, right, top, bottom, low, high, endS, x, unit })

  const draw = (values: Float64Array, color: string, width: number, dash: number | null): void => {
    doc.lineWidth(width).strokeColor(color).lineJoin('round')
    if (dash === null) doc.undash()
    else doc.dash(dash, { space: dash })
    let pen = false
    for (const [i, value] of values.entries()) {
      if (!Number.isFinite(value)) {
        pen = false
        continue
      }
      const px = x((curves.timeS[i] ?? start) - start)
      const py = y(value)
      if (pen) doc.lineTo(px, py)
      else doc.moveTo(px, py)
      pen = true
    }
    doc.stroke().undash()
  }
  draw(curves.gaugePa, ink.faint, 0.7, null)
  draw(curves.compensatedPa, ink.text, 1.1, null)
  draw(curves.leakLinePa, accent, 1, 4)
  doc.lineWidth(1).strokeColor(ink.soft).dash(1.2, { space: 2 })
  doc
    .moveTo(x(0), y(startPa))
    .lineTo(x(endS), y(allowancePa(endS)))
    .stroke()
    .undash()
  doc.restore()

  labelEnds(
    sheet,
    [
      { y: y(lastFinite(curves.gaugePa)), text: 'gauge as read', color: ink.soft },
      { y: y(lastFinite(curves.compensatedPa)), text: 'compensated', color: ink.text },
      { y: y(lastFinite(curves.leakLinePa)), text: 'fitted leak', color: accent },
      { y: y(allowancePa(endS)), text: 'all the allowance used', color: ink.soft },
    ],
    right + 8,
    top,
    bottom,
  )
  sheet.y += height
}

interface Axes {
  left: number
  right: number
  top: number
  bottom: number
  low: number
  high: number
  endS: number
  x: (t: number) => number
  unit: string
}

function drawAxes(sheet: Sheet, axes: Axes): void {
  const small = { size: 7.5, color: ink.soft } as const
  const vertical = niceTicks(axes.low, axes.high, 5)
  for (const value of vertical.values) {
    const at = axes.bottom - ((value - axes.low) / (axes.high - axes.low)) * (axes.bottom - axes.top)
    sheet.stroke(0.4, ink.hair, axes.left, at, axes.right, at)
    sheet.line(fixed(value, vertical.decimals), axes.left - 6, at - 5, { ...small, align: 'right' })
  }
  sheet.line(axes.unit, page.left, axes.top - 5, small)
  const inHours = axes.endS > 3 * 3600
  const inMinutes = axes.endS > 180
  const unitS = inHours ? 3600 : inMinutes ? 60 : 1
  const horizontal = niceTicks(0, axes.endS / unitS, 6)
  for (const value of horizontal.values) {
    const at = axes.x(value * unitS)
    sheet.stroke(0.5, ink.soft, at, axes.bottom, at, axes.bottom + 3)
    const last = value === horizontal.values.at(-1)
    const unit = inHours ? 'h' : inMinutes ? 'min' : 's'
    const label = fixed(value, horizontal.decimals)
    sheet.line(last ? `${label} ${unit}` : label, at, axes.bottom + 6, { ...small, align: 'center' })
  }
  sheet.stroke(0.6, ink.soft, axes.left, axes.bottom, axes.right, axes.bottom)
}

interface EndLabel {
  y: number
  text: string
  color: string
}

/** Labels at the right ends of their curves, moved apart so that they do not overlap. */
function labelEnds(sheet: Sheet, labels: EndLabel[], x: number, top: number, bottom: number): void {
  const width = page.right - x
  const style = { size: 7.5, lineGap: 0 } as const
  const placed = labels
    .map((label) => ({ ...label, height: sheet.height(label.text, width, style), at: 0 }))
    .sort((a, b) => a.y - b.y)
  let free = top - 4
  for (const label of placed) {
    label.at = Math.max(free, label.y - label.height / 2)
    free = label.at + label.height + 3
  }
  let ceiling = bottom + 6
  for (const label of placed.reverse()) {
    label.at = Math.min(label.at, ceiling - label.height)
    ceiling = label.at - 3
  }
  for (const label of placed) {
    const middle = label.at + label.height / 2
    sheet.stroke(0.4, label.color, x - 7, label.y, x - 2, middle)
    sheet.text(label.text, x, label.at, width, { ...style, color: label.color })
  }
}

function lastFinite(values: Float64Array): number {
  return values.findLast(Number.isFinite) ?? Number.NaN
}
