import { fuelWithin, type LevelCurve } from './level-curve.ts'
import type { LevelResult, LevelStep } from './level-result.ts'

const liters = 1e3

/** A mark of the gauge's scale and the usable fuel it stands for. */
export interface GaugeMark {
  readonly step: string
  readonly usableM3: number
}

/** Equal parts from unusable fuel to full, or the marks as they stand, with empty and full. */
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

/** Table for the gauge: reading and interval at each of its marks. */
export function stepsOf(curve: LevelCurve, marks: readonly GaugeMark[]): LevelStep[] {
  return marks.map(({ step, usableM3 }) => {
    // The last pour seldom ends exactly at the step.
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

/** Largest gap between up and down, and the fuel that it stands for; null when only one direction was taken. */
export function hysteresisOf(curve: LevelCurve, span: number): LevelResult['hysteresis'] {
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
