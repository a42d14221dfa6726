import type { HoldCurves } from '#analysis/model/hold-result.ts'

/** How far a correction moved, each as a drop in the stated time. */
export interface FollowedChange {
  /** Over the hold, but for its first fifth. */
  readonly now: number
  /** At the pace of its last third. */
  readonly late: number
  /** How fast that pace dies away, for each time that was held; 0 where it does not. */
  readonly decay: number
}

/** What moved in the first fifth bends the curve too much to be taken for a leak. */
const bent = 0.2
/** A last third slower than this share of the first is taken for one that dies away. Own figure. */
const dying = 0.8

/**
 * How far what was corrected (heat, temperature, creep) moved while it was held, and how it goes on.
 *
 * @param curves of the hold: as read and as corrected
 * @param holdS its start, [s]
 * @param untilS its end, [s]
 * @param counted all moves, to and fro, or the range between its ends: a swing goes no further than it went
 */
export function followedChange(
  { timeS, gaugePa, compensatedPa }: HoldCurves,
  holdS: number,
  untilS: number,
  statedS: number,
  counted: 'moves' | 'range',
): FollowedChange {
  const corrected = gaugePa.map((gauge, i) => gauge - compensatedPa[i])
  const fromS = Math.max(holdS, timeS[0])
  const spanS = Math.max(1, untilS - fromS)
  const within = (from: number, to: number): Float64Array =>
    corrected.filter((_, i) => timeS[i] >= fromS + from * spanS && timeS[i] <= fromS + to * spanS)
  const share = statedS / spanS
  const moves = (from: number, to: number): number => share * sumOfMoves(within(from, to))
  const range = (to: number): number => share * rangeOf(within(0, to))
  const [now, early, late] =
    counted === 'moves'
      ? [moves(bent, 1), 3 * moves(0, 1 / 3), 3 * moves(2 / 3, 1)]
      : [range(1), 3 * range(1 / 3), 3 * (range(1) - range(2 / 3))]
  return { now, late, decay: late > 0 && late < dying * early ? 1.5 * Math.log(early / late) : 0 }
}

function sumOfMoves(values: Float64Array): number {
  let sum = 0
  for (let i = 1; i < values.length; i++) sum += Math.abs(values[i] - values[i - 1])
  return sum
}

function rangeOf(values: Float64Array): number {
  return values.length === 0 ? 0 : Math.max(...values) - Math.min(...values)
}
