import type { HoldAnalysis, HoldCurves, Verdict } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { budgetWords } from '#analysis/reasons/bench-words.ts'
import { type DisplayUnits, duration, percentOf } from '#analysis/reasons/figures.ts'
import { holdFacts } from '#dashboard/archive/page/hold-facts.ts'
import { resultInk as colors, resultText } from './terminal.ts'

const verdictColor: Readonly<Record<Verdict, (text: string) => string>> = {
  pass: colors.green,
  fail: colors.red,
  undecided: colors.yellow,
  void: colors.magenta,
}

/** One hold for people: verdict, reasons, then its facts as the test report has them. */
export function analysisText(
  analysis: HoldAnalysis,
  system: System,
  units: (sections: readonly string[]) => DisplayUnits,
  draw: boolean,
): string {
  const { result, curves } = analysis
  const word = colors.bold(verdictColor[result.verdict](result.verdict.toUpperCase()))
  const lines = [`${word}  ${colors.bold(result.hold)}  ${result.recording}`]
  for (const { message } of result.reasons) lines.push(`  ${message}`)
  const { needs_seconds_more: more } = result
  if (more !== null) lines.push(`  About ${duration(more)} more of the same would decide it.`)
  const hold = system.holds.find(({ id }) => id === result.hold) ?? null
  const [, ...facts] = holdFacts(result, hold, system, analysis, units(result.sections))
  const width = Math.max(...facts.map(([name]) => name.length))
  for (const [name, value] of facts) lines.push(`  ${name.padEnd(width)}  ${value}`)
  if (result.budget !== undefined)
    lines.push(...budgetWords(result.budget, width + 2).map((line) => `  ${line}`))
  for (const event of result.events) lines.push(`  ${event.message}`)
  const suspects = result.fittings.slice(0, 3).map((f) => `${f.id} ${percentOf(f.leaking)}`)
  if (suspects.length > 0 && result.verdict !== 'pass')
    lines.push(`  ${'may leak'.padEnd(width)}  ${suspects.join(', ')}`)
  const holdS = holdStartS(result.stages, curves)
  if (draw && holdS !== null) {
    for (const curve of curves) {
      const drawn = drawnCurve(curve, holdS, units([curve.section]).pressure)
      if (drawn.length === 0) continue
      lines.push('', `  ${curve.section}, gauge pressure compensated for temperature and atmosphere:`)
      for (const line of drawn) lines.push(`  ${line}`)
    }
  }
  return resultText(lines)
}

/** Start of the hold on the curves' time scale; null without a curve. */
function holdStartS(stages: HoldAnalysis['result']['stages'], curves: HoldAnalysis['curves']): number | null {
  const [first] = curves
  if (stages.hold_ns === null || first === undefined) return null
  return first.holdStartS ?? first.timeS[0] ?? null
}

/** Dots of a braille cell: column 0 top to bottom, then column 1. */
const dots = [
  [0x01, 0x02, 0x04, 0x40],
  [0x08, 0x10, 0x20, 0x80],
]

/**
 * The compensated pressure of a hold drawn with braille dots, its scale at the left and the seconds below.
 *
 * @param unit pressure unit of the scale
 * @param fromS start of the hold stage on the curve's time scale, [s]
 * @returns no lines when fewer than two points are in the hold
 */
function drawnCurve(curve: HoldCurves, fromS: number, unit: string, columns = 60, rows = 8): string[] {
  const points: { x: number; y: number }[] = []
  for (const [i, timeS] of curve.timeS.entries()) {
    const y = curve.compensatedPa[i] ?? Number.NaN
    if (timeS >= fromS && Number.isFinite(y)) points.push({ x: timeS - fromS, y })
  }
  const last = points.at(-1)
  if (last === undefined || points.length < 2) return []
  const low = Math.min(...points.map(({ y }) => y))
  const high = Math.max(...points.map(({ y }) => y))
  const lastS = last.x
  const cells = Array.from({ length: rows }, () => new Uint8Array(columns))
  for (const { x, y } of points) {
    const column = Math.min(2 * columns - 1, Math.floor((x / lastS) * 2 * columns))
    const share = high > low ? (high - y) / (high - low) : 0.5
    const row = Math.min(4 * rows - 1, Math.floor(share * 4 * rows))
    // Both indices are within the drawing.
    cells[row >> 2]![column >> 1]! |= dots[column & 1]![row & 3]!
  }
  const labels = new Map([
    [0, label(high, low, high, unit)],
    [rows - 1, label(low, low, high, unit)],
  ])
  const width = Math.max(...[...labels.values()].map((text) => text.length))
  const lines = cells.map((row, r) => {
    const text = [...row].map((cell) => String.fromCharCode(0x2800 + cell)).join('')
    return `${(labels.get(r) ?? '').padStart(width)} │${text}`
  })
  const seconds = `${Math.round(lastS)} s`
  lines.push(`${' '.repeat(width)} └${'─'.repeat(columns)}`)
  lines.push(`${' '.repeat(width)}  0${seconds.padStart(columns - 1)}`)
  return lines
}

function label(pa: number, low: number, high: number, unit: string): string {
  const span = Math.abs(toUnit(high, unit, 'pressure') - toUnit(low, unit, 'pressure'))
  const decimals = span > 0 ? Math.min(6, Math.max(0, 2 - Math.floor(Math.log10(span)))) : 3
  return `${toUnit(pa, unit, 'pressure').toFixed(decimals)} ${unit}`
}
