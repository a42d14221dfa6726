import type { HoldCurves } from '#analysis/model/hold-result.ts'
import { toUnit } from '#analysis/physics/units.ts'

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
export function drawnCurve(curve: HoldCurves, fromS: number, unit: string, columns = 60, rows = 8): string[] {
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
