import type { LevelResult, LevelStep } from '#analysis/fuel-work/calibrate-level.ts'
import type { HoldCurves } from '#analysis/model/hold-result.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { fixed } from './figure-words.ts'
import { fromHoldStart, type PrintedHold } from './hold-facts.ts'
import { ink, page, type Sheet } from './sheet.ts'

/** Round tick values (spaced by 1, 2 or 5 times a power of ten) within a range, about `count` of them. */
export function niceTicks(low: number, high: number, count: number): { values: number[]; decimals: number } {
  const span = high - low
  if (!(span > 0)) return { values: [low], decimals: 0 }
  const rough = span / count
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = power * ([1, 2, 5, 10].find((factor) => factor * power >= rough * 0.999) ?? 10)
  const values: number[] = []
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i++) values.push(i * step)
  return { values, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) }
}

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
  const yOf = (value: number): number => bottom - ((value - low) / (high - low)) * (bottom - top)
  const y = (pa: number): number => yOf(shown(pa))

  doc.save()
  doc
    .moveTo(x(0), y(startPa))
    .lineTo(x(endS), y(allowancePa(endS)))
    .lineTo(x(endS), suction ? top : bottom)
    .lineTo(x(0), suction ? top : bottom)
    .fill(ink.wash)
  const [unitS, unitWord] = endS > 3 * 3600 ? [3600, ' h'] : endS > 180 ? [60, ' min'] : [1, ' s']
  const up = { ticks: niceTicks(low, high, 5), at: yOf }
  const along = { ticks: niceTicks(0, endS / unitS, 6), at: (value: number) => x(value * unitS) }
  drawAxes(sheet, { left, right, top: top - 5, bottom }, up, along, unit, unitWord)
  sheet.stroke(0.6, ink.soft, left, bottom, right, bottom)

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

/** An axis: its ticks, and the place of a value on the page, [pt]. */
interface Axis {
  readonly ticks: ReturnType<typeof niceTicks>
  readonly at: (value: number) => number
}

interface Frame {
  readonly left: number
  readonly right: number
  readonly top: number
  readonly bottom: number
}

const small = { size: 7.5, color: ink.soft } as const

/** The ticks of both axes with their numbers, and the unit of the upright one over it. */
function drawAxes(
  sheet: Sheet,
  { left, right, top, bottom }: Frame,
  up: Axis,
  along: Axis,
  unit: string,
  last = '',
): void {
  for (const value of up.ticks.values) {
    const y = up.at(value)
    sheet.stroke(0.4, ink.hair, left, y, right, y)
    sheet.line(fixed(value, up.ticks.decimals), left - 6, y - 5, { ...small, align: 'right' })
  }
  sheet.line(unit, page.left, top, small)
  for (const value of along.ticks.values) {
    const x = along.at(value)
    sheet.stroke(0.5, ink.soft, x, bottom, x, bottom + 3)
    const text = fixed(value, along.ticks.decimals) + (value === along.ticks.values.at(-1) ? last : '')
    sheet.line(text, x, bottom + 6, { ...small, align: 'center' })
  }
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

/**
 * Curve of a level sender: usable fuel on x, reading on y. The 95 % interval of each step is a bar, up and down are
 * full and open points, the ground attitude is dashed. Draws at the cursor; nothing when there is no curve.
 */
export function drawLevelChart(sheet: Sheet, result: LevelResult, height: number): void {
  const curves = [
    { name: 'aircraft level', steps: result.steps_level.filter(isRead), dash: null },
    { name: 'as on the ground', steps: result.steps_ground.filter(isRead), dash: 4 },
  ].filter(({ steps }) => steps.length > 1)
  if (curves.length === 0) return
  sheet.need(height + 10)
  const { doc } = sheet
  const [left, right] = [page.left + axisWidth, page.right - labelWidth]
  const [top, bottom] = [sheet.y + 12, sheet.y + height - 26]
  const fuels = [
    ...curves.flatMap(({ steps }) => steps.map((s) => s.usable_L)),
    ...result.points.map((p) => p.usable_L),
  ]
  const readings = [
    ...curves.flatMap(({ steps }) =>
      steps.flatMap((s) => [s.reading, s.reading_low ?? s.reading, s.reading_high ?? s.reading]),
    ),
    ...result.points.map(({ reading }) => reading),
  ]
  const along = scale(fuels, left, right)
  const up = scale(readings, bottom, top)
  doc.save()
  drawAxes(sheet, { left, right, top: top - 12, bottom }, up, along, result.reading_unit)
  sheet.line('L of usable fuel', right + 8, bottom + 6, small)
  for (const { name, steps, dash } of curves) {
    doc.undash()
    for (const { usable_L, reading, reading_low, reading_high } of steps) {
      const x = along.at(usable_L)
      sheet.stroke(0.8, ink.soft, x, up.at(reading_low ?? reading), x, up.at(reading_high ?? reading))
    }
    doc.lineWidth(1.1).strokeColor(ink.text)
    if (dash !== null) doc.dash(dash, { space: dash })
    for (const [i, { usable_L, reading }] of steps.entries()) {
      if (i === 0) doc.moveTo(along.at(usable_L), up.at(reading))
      else doc.lineTo(along.at(usable_L), up.at(reading))
    }
    doc.stroke().undash()
    const last = steps.at(-1)
    if (last) sheet.line(name, right + 8, up.at(last.reading) - 5, { ...small, color: ink.text })
  }
  doc.lineWidth(0.7).strokeColor(ink.text).fillColor(ink.text)
  for (const { usable_L, reading, direction } of result.points) {
    doc.circle(along.at(usable_L), up.at(reading), 1.8)
    if (direction === 'up') doc.fill()
    else doc.stroke()
  }
  doc.restore()
  sheet.line('full points: poured in; open: drawn off', left, bottom + 16, small)
  sheet.y += height + 10
}

type ReadStep = LevelStep & { readonly reading: number }
const isRead = (step: LevelStep): step is ReadStep => step.reading !== null

function scale(values: readonly number[], from: number, to: number) {
  const margin = (Math.max(...values) - Math.min(...values)) * 0.05 || 1
  const low = Math.min(...values) - margin
  const high = Math.max(...values) + margin
  const at = (value: number): number => from + ((value - low) / (high - low)) * (to - from)
  return { at, ticks: niceTicks(low, high, 5) }
}
