import type { Estimate, HoldCurves } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { ChartColumns } from './line-path.ts'

/** The side of the allowance that the leak interval of one section is on; an unbounded interval is on neither. */
export function sideOf(
  { low, high }: Estimate,
  allowance: number,
): { readonly state: 'pass' | 'fail' | 'undecided'; readonly word: string } {
  // An infinite bound arrives as null in JSON, and null compares like 0.
  if (typeof high === 'number' && Number.isFinite(high) && high < allowance)
    return { state: 'pass', word: t`below the allowance` }
  if (typeof low === 'number' && Number.isFinite(low) && low > allowance)
    return { state: 'fail', word: t`above the allowance` }
  return { state: 'undecided', word: t`cannot tell yet` }
}

/** A hold below atmospheric pressure: drawn down, not pumped up; a leak raises its pressure. */
export const isSuction = (spec: Pick<HoldSpec, 'pressurePa'> | null | undefined): boolean =>
  (spec?.pressurePa ?? 0) < 0

/** Pressure limit of this hold, [Pa]: the lowest maximum of its sections, or their least vacuum as a negative pressure. Null: stated for none. */
export function limitPa(
  spec: Pick<HoldSpec, 'pressurePa'> | null,
  sections: readonly Pick<Section, 'maxPressurePa' | 'maxVacuumPa'>[],
): number | null {
  const suction = isSuction(spec)
  const stated = sections.flatMap((one) => (suction ? one.maxVacuumPa : one.maxPressurePa) ?? [])
  return stated.length === 0 ? null : suction ? -Math.min(...stated) : Math.min(...stated)
}

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
