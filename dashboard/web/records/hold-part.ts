import type { HoldCurves } from '#analysis/model/hold-result.ts'
import type { ChartColumns } from '../parts/line-path.ts'

/** Trims curves that begin while settling to the hold, their last `seconds`. */
export function holdPart(curve: WireCurves, seconds: number): WireCurves {
  const end = curve.timeS.at(-1) ?? 0
  const from = curve.timeS.findIndex((at) => at >= end - seconds - 1e-6)
  if (from <= 0) return curve
  const cut = Object.entries(curve).map(([key, column]) => [
    key,
    Array.isArray(column) ? column.slice(from) : column,
  ])
  return Object.fromEntries(cut) as WireCurves
}

/** In JSON the columns are plain arrays. */
export type WireCurves = {
  readonly [K in keyof HoldCurves]: K extends 'section' ? string : readonly number[]
}

interface HoldLengths {
  /** Actual hold time, [s]. */
  readonly heldS: number
  /** Hold time of the allowance, [s]; null: unknown. */
  readonly statedS: number | null
}

/**
 * The gauge pressure of a section that leaks exactly the allowance, over the actual hold time: a hold that ended
 * early may use only that share of its allowance. Under suction it rises. Without the stated time no line is
 * drawn.
 *
 * @param startPa gauge pressure at the start of the hold, [Pa]
 * @param dropPa what the stated hold may lose, [Pa]
 */
export function allowanceLine(
  startPa: number,
  dropPa: number,
  { heldS, statedS }: HoldLengths,
): ChartColumns {
  const used = statedS === null ? null : (dropPa * heldS) / statedS
  return {
    x: [0, heldS],
    y: used === null ? [null, null] : [startPa, startPa - used * (startPa < 0 ? -1 : 1)],
  }
}
