import type { LevelResult, LevelStep } from '#analysis/fuel-work/calibrate-level.ts'
import { fixed } from './figure-words.ts'
import { niceTicks } from './nice-ticks.ts'
import { ink, page, type Sheet } from './sheet.ts'

const axisWidth = 40
const labelWidth = 118

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
  const small = { size: 7.5, color: ink.soft } as const
  doc.save()
  for (const value of up.ticks.values) {
    sheet.stroke(0.4, ink.hair, left, up.at(value), right, up.at(value))
    sheet.line(fixed(value, up.ticks.decimals), left - 6, up.at(value) - 5, { ...small, align: 'right' })
  }
  for (const value of along.ticks.values) {
    const x = along.at(value)
    sheet.stroke(0.5, ink.soft, x, bottom, x, bottom + 3)
    sheet.line(fixed(value, along.ticks.decimals), x, bottom + 6, { ...small, align: 'center' })
  }
  sheet.line(result.reading_unit, page.left, top - 12, small)
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
