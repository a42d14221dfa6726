import { firstIndexAt } from './block-averages.ts'

/**
 * Longest time without a usable reading of a channel between two moments, its ends included, [s].
 *
 * @param timeS sample times, ascending, [s]
 */
export function longestSilence(
  timeS: Float64Array,
  reading: Float64Array,
  usable: (reading: number) => boolean,
  fromS: number,
  toS: number,
): number {
  let longest = 0
  let lastS = fromS
  for (let i = firstIndexAt(timeS, fromS); i < timeS.length && timeS[i] <= toS; i++) {
    if (!usable(reading[i])) continue
    longest = Math.max(longest, timeS[i] - lastS)
    lastS = timeS[i]
  }
  return Math.max(longest, toS - lastS)
}
