import type { HoldCurves } from '#analysis/model/hold-result.ts'

/** Cuts curves that begin while settling down to the hold itself, which is their last `seconds`. */
export function holdPart(curve: WireCurves, seconds: number): WireCurves {
  const end = curve.timeS.at(-1) ?? 0
  const from = curve.timeS.findIndex((at) => at >= end - seconds - 1e-6)
  if (from <= 0) return curve
  const cut = <T extends readonly number[] | null>(column: T): T =>
    (column === null ? column : column.slice(from)) as T
  return {
    section: curve.section,
    timeS: cut(curve.timeS),
    gaugePa: cut(curve.gaugePa),
    compensatedPa: cut(curve.compensatedPa),
    leakLinePa: cut(curve.leakLinePa),
    temperatureK: cut(curve.temperatureK),
    barometricPa: cut(curve.barometricPa),
  }
}

/** Over the wire the columns are plain arrays. */
export type WireCurves = {
  readonly [K in keyof HoldCurves]: K extends 'section' ? string : readonly number[]
}
