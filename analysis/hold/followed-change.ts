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
 * @param sum of all moves, to and fro; otherwise of where it ended up
 */
export function followedChange(
  { timeS, gaugePa, compensatedPa }: HoldCurves,
  holdS: number,
  untilS: number,
  statedS: number,
  sum: 'of-moves' | 'of-ends',
): FollowedChange {
  const corrected = gaugePa.map((gauge, i) => gauge - compensatedPa[i])
  const fromS = Math.max(holdS, timeS[0])
  const spanS = Math.max(1, untilS - fromS)
  const moved = (from: number, to: number): number => {
    let total = 0
    let net = 0
    for (let i = 1; i < timeS.length; i++) {
      if (timeS[i] <= fromS + from * spanS || timeS[i] > fromS + to * spanS) continue
      const step = corrected[i] - corrected[i - 1]
      total += Math.abs(step)
      net += step
    }
    return ((sum === 'of-moves' ? total : Math.abs(net)) * statedS) / spanS
  }
  const early = 3 * moved(0, 1 / 3)
  const late = 3 * moved(2 / 3, 1)
  return {
    now: moved(bent, 1),
    late,
    decay: late > 0 && late < dying * early ? 1.5 * Math.log(early / late) : 0,
  }
}
