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
  const times: number[] = []
  const levels: number[] = []
  for (let i = firstIndexAt(timeS, fromS); i < timeS.length && timeS[i] <= toS; i++) {
    if (!Number.isFinite(values[i])) continue
    times.push(timeS[i])
    levels.push(values[i])
  }
  const n = times.length
  if (n < 10) return null
  const line = straightLine(Float64Array.from(times), Float64Array.from(levels))
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
