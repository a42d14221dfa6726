import type { ChartColumns } from '../parts/line-path.ts'

interface HoldLengths {
  /** How long it was held, [s]. */
  readonly heldS: number
  /** Hold time the allowance is for, [s]; null where it is not known. */
  readonly statedS: number | null
}

/**
 * The gauge pressure of a section that leaks exactly as much as allowed, over the time it was held: a hold that ended
 * early may have used only that share of its allowance. Under suction it rises. Without the stated time no line is
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
