import type { HoldCurves } from '#analysis/model/hold-result.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'

/** A change in the first fifth bends the curve too much to resemble a leak. */
const bent = 0.2
/** A last third slower than this share of the first counts as decaying. Own figure. */
const dying = 0.8

/**
 * Change of the corrections (heat, temperature, creep) during the hold, and how they continue.
 *
 * @param curves of the hold: as read and as corrected
 * @param holdS its start, [s]
 * @param untilS its end, [s]
 * @param counted the sum of all moves, or their range: a swing does not continue beyond its range
 * @returns as a drop in the stated time: the change over the hold except its first fifth (`now`) and at the rate of its last
 * third (`late`); and the decay of that rate per time held, 0 where it does not decay
 */
export function followedChange(
  { timeS, gaugePa, compensatedPa }: HoldCurves,
  holdS: number,
  untilS: number,
  statedS: number,
  counted: 'moves' | 'range',
) {
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

export type FollowedChange = Readonly<ReturnType<typeof followedChange>>

function sumOfMoves(values: Float64Array): number {
  let sum = 0
  for (let i = 1; i < values.length; i++) sum += Math.abs(values[i] - values[i - 1])
  return sum
}
