import { straightLine } from '#analysis/numeric/straight-line.ts'
import { firstIndexAt } from './block-averages.ts'

/** Least-squares line through the readings from one moment to another, with its level at a third and their standard errors. */
export function lineThrough(
  timeS: Float64Array,
  values: Float64Array,
  fromS: number,
  toS: number,
  atS: number,
): { perS: number; stdPerS: number; atEnd: number; std: number } | null {
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
