import { straightLine } from '#analysis/numeric/straight-line.ts'
import { firstIndexAt } from './block-averages.ts'

/** The part of a column from one moment to another. */
export function sliceOf(timeS: Float64Array, values: Float64Array, fromS: number, toS: number): Float64Array {
  return values.subarray(firstIndexAt(timeS, fromS), firstIndexAt(timeS, toS))
}

/** Typical sample spacing between two moments, at least 1 ms, [s]. */
export function medianSpacing(timeS: Float64Array, fromS: number, toS: number): number {
  const from = firstIndexAt(timeS, fromS)
  const to = firstIndexAt(timeS, toS)
  if (to - from < 3) return 1
  const stride = Math.max(1, Math.floor((to - from) / 2000))
  const gaps: number[] = []
  for (let i = from + 1; i < to; i += stride) gaps.push(timeS[i] - timeS[i - 1])
  gaps.sort((a, b) => a - b)
  return Math.max(1e-3, gaps[gaps.length >> 1])
}

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

/**
 * The longest run of equal readings between two indices, the first of several, and the length of the next longest.
 *
 * @param to not included; NaN equals no reading
 */
export function equalRuns(reading: Float64Array, from = 0, to = reading.length) {
  let longest = { from, length: 0 }
  let nextLength = 0
  for (let at = from; at < to; ) {
    let end = at + 1
    while (end < to && reading[end] === reading[at]) end++
    if (end - at > longest.length) {
      nextLength = longest.length
      longest = { from: at, length: end - at }
    } else nextLength = Math.max(nextLength, end - at)
    at = end
  }
  return { longest, nextLength }
}

/** A run of equal readings, from an index on. */
export type EqualRun = Readonly<ReturnType<typeof equalRuns>['longest']>

/** Least-squares line through the readings from one moment to another, with its level at a third and their standard errors. */
export function lineThrough(
  timeS: Float64Array,
  values: Float64Array,
  fromS: number,
  toS: number,
  atS: number,
) {
  const from = firstIndexAt(timeS, fromS)
  let to = from
  let n = 0
  for (; to < timeS.length && timeS[to] <= toS; to++) if (Number.isFinite(values[to])) n++
  if (n < 10) return null
  let [times, levels] = [timeS.subarray(from, to), values.subarray(from, to)]
  // A day has millions of readings: copied only to leave some out.
  if (n < levels.length) {
    const read = levels
    times = times.filter((_, i) => Number.isFinite(read[i]))
    levels = read.filter(Number.isFinite)
  }
  const line = straightLine(times, levels)
  // Neighbouring errors are correlated: the effective sample size is a third.
  const shared = Math.sqrt(3)
  const ahead = atS - line.meanX
  return {
    perS: line.slope,
    stdPerS: shared * line.stdSlope,
    atEnd: line.meanY + line.slope * ahead,
    std: shared * Math.hypot(line.stdResidual / Math.sqrt(n), line.stdSlope * ahead),
  }
}
