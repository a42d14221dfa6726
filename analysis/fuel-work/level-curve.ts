import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { studentTQuantile } from '#analysis/numeric/student-t.ts'
import {
  curveAt,
  type MonotoneCurve,
  monotoneCurve,
  poolAdjacentViolators,
  type RunPoint,
} from './monotone.ts'

/**
 * Reading over usable fuel in one attitude: a smooth monotone curve for each direction (isotonic means of the points), and their mean.
 *
 * The interval combines scatter and shape (root mean square deviation of each inner point from the curve of the others,
 * halved, since leaving a point out doubles the step), half the largest gap between up and down as a half width over √3
 * (the ends have only one direction), and the common error of the jug through the slope. Two-sided 95 % with Student's
 * t on the inner points.
 *
 * @param runs points of each direction; two points or more each
 * @param sense +1 when more fuel makes the reading rise
 * @param stdFactor relative standard uncertainty of all volumes together
 * Source: [jcgm-100] 4.3.7, 5.1; the halving is our own rule, verified by simulated calibrations
 */
export function levelCurve(runs: readonly (readonly RunPoint[])[], sense: 1 | -1, stdFactor: number) {
  const curves = runs.map((points) => curveOf(points, sense))
  const left = runs.flatMap((points) => leftOut(points, sense))
  const freedom = Math.max(1, left.length)
  const shape = left.length > 0 ? Math.sqrt(left.reduce((sum, e) => sum + e * e, 0) / left.length) / 2 : 0
  const scatter = Math.max(...runs.flat().map(({ std }) => std))
  const t = studentTQuantile(0.975, freedom)
  const lowM3 = Math.min(...curves.map(({ x }) => x[0]))
  const highM3 = Math.max(...curves.map(({ x }) => x[x.length - 1]))
  const values = (at: number): number[] => curves.map((curve) => curveAt(curve, at)).filter((v) => v !== null)
  /** Mean of the directions at that volume; null outside their range. */
  const readingAt = (at: number): number | null => {
    const all = values(at)
    return all.length === 0 ? null : all.reduce((a, b) => a + b) / all.length
  }
  /** Up less down, where both directions exist; null elsewhere. */
  const gapAt = (at: number): number | null => {
    const all = values(at)
    return all.length < 2 ? null : all[0] - all[1]
  }
  const largestGap = Math.max(
    ...Array.from({ length: 201 }, (_, i) => Math.abs(gapAt(lowM3 + ((highM3 - lowM3) * i) / 200) ?? 0)),
  )
  const slopeAt = (at: number): number => {
    const step = (highM3 - lowM3) / 400
    const a = Math.max(lowM3, at - step)
    const b = Math.min(highM3, at + step)
    return ((readingAt(b) ?? 0) - (readingAt(a) ?? 0)) / (b - a)
  }
  /** Half-width of the 95 % interval of the reading; null outside. */
  const halfWidthAt = (at: number): number | null => {
    if (readingAt(at) === null) return null
    const random = t * Math.hypot(shape, scatter)
    const gap = ((z95 / Math.sqrt(3)) * largestGap) / 2
    return Math.hypot(random, gap, z95 * slopeAt(at) * stdFactor * at)
  }
  return { lowM3, highM3, readingAt, halfWidthAt, gapAt }
}

export type LevelCurve = Readonly<ReturnType<typeof levelCurve>>

/** Lowest and highest volume, on a fine grid, whose interval contains the reading at the given volume. */
function fuelWithin(curve: LevelCurve, usableM3: number): readonly [low: number, high: number] | null {
  const reading = curve.readingAt(usableM3)
  if (reading === null) return null
  let low = usableM3
  let high = usableM3
  const cells = 800
  for (let i = 0; i <= cells; i++) {
    const at = curve.lowM3 + ((curve.highM3 - curve.lowM3) * i) / cells
    const there = curve.readingAt(at)
    const half = curve.halfWidthAt(at)
    if (there === null || half === null || Math.abs(there - reading) > half) continue
    low = Math.min(low, at)
    high = Math.max(high, at)
  }
  return [low, high]
}

function curveOf(points: readonly RunPoint[], sense: 1 | -1): MonotoneCurve {
  const merged = mergeSameVolume(points)
  const weights = merged.map(({ std }) => 1 / Math.max(std, 1e-9) ** 2)
  const rising = poolAdjacentViolators(
    merged.map(({ reading }) => sense * reading),
    weights,
  )
  return monotoneCurve(
    merged.map(({ usableM3 }) => usableM3),
    rising.map((value) => sense * value),
  )
}

function mergeSameVolume(points: readonly RunPoint[]): RunPoint[] {
  const merged: RunPoint[] = []
  for (const point of [...points].sort((a, b) => a.usableM3 - b.usableM3)) {
    const last = merged.at(-1)
    if (last && point.usableM3 - last.usableM3 < 1e-9) {
      merged[merged.length - 1] = { ...last, reading: (last.reading + point.reading) / 2 }
    } else merged.push(point)
  }
  return merged
}

/** Deviation of each inner point from the curve through the others. */
function leftOut(points: readonly RunPoint[], sense: 1 | -1): number[] {
  const sorted = mergeSameVolume(points)
  return sorted.slice(1, -1).map((point) => {
    const others = sorted.filter((other) => other !== point)
    return point.reading - curveAt(curveOf(others, sense), point.usableM3)!
  })
}

const liters = 1e3

/** A mark of the gauge's scale and its usable fuel. */
interface GaugeMark {
  readonly step: string
  readonly usableM3: number
}

/** Equal parts from unusable fuel to full, or the stated marks, with empty and full. */
export function gaugeMarks(steps: number | readonly number[], fullM3: number): GaugeMark[] {
  const parts =
    typeof steps === 'number'
      ? Array.from({ length: steps - 1 }, (_, i) => ({
          step: `${i + 1}/${steps}`,
          usableM3: (fullM3 * (i + 1)) / steps,
        }))
      : steps
          .filter((m3) => m3 > 0 && m3 < fullM3)
          .map((usableM3) => ({ step: `${Number((usableM3 * liters).toFixed(1))} L`, usableM3 }))
  return [{ step: 'empty', usableM3: 0 }, ...parts, { step: 'full', usableM3: fullM3 }]
}

/** Table for the gauge: reading and interval at each of its marks; null beyond the sender's range. */
export function stepsOf(curve: LevelCurve, marks: readonly GaugeMark[]) {
  return marks.map(({ step, usableM3 }) => {
    // The last pour seldom reaches the step exactly.
    const at = Math.min(Math.max(usableM3, curve.lowM3 - 1e-6), curve.highM3 + 1e-6)
    const inside = Math.abs(at - usableM3) < 1e-9
    const place = Math.min(Math.max(usableM3, curve.lowM3), curve.highM3)
    const reading = inside ? curve.readingAt(place) : null
    const half = inside ? curve.halfWidthAt(place) : null
    const fuel = inside ? fuelWithin(curve, place) : null
    return {
      step,
      usable_L: usableM3 * liters,
      reading,
      reading_low: reading === null || half === null ? null : reading - half,
      reading_high: reading === null || half === null ? null : reading + half,
      usable_low_L: fuel === null ? null : fuel[0] * liters,
      usable_high_L: fuel === null ? null : fuel[1] * liters,
    }
  })
}

/** Largest gap between up and down, and its equivalent in fuel; null when only one direction was taken. */
export function hysteresisOf(curve: LevelCurve, span: number) {
  let largest: number | null = null
  let fuel = 0
  const cells = 200
  const width = (curve.highM3 - curve.lowM3) / cells
  for (let i = 0; i <= cells; i++) {
    const at = curve.lowM3 + width * i
    const gap = curve.gapAt(at)
    if (gap === null) continue
    if (largest === null || Math.abs(gap) > largest) largest = Math.abs(gap)
    const rise = Math.abs(
      (curve.readingAt(Math.min(at + width, curve.highM3)) ?? 0) -
        (curve.readingAt(Math.max(at - width, curve.lowM3)) ?? 0),
    )
    if (rise > 0) fuel = Math.max(fuel, Math.min((Math.abs(gap) / rise) * 2 * width, curve.highM3))
  }
  if (largest === null || span <= 0) return null
  return { span_percent: (100 * largest) / span, fuel_L: fuel * liters }
}
