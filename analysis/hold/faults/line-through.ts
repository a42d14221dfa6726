import { firstIndexAt } from '../block-averages.ts'

/** Least-squares line through the readings from one moment to another, with its level at a third and their standard errors. */
export function lineThrough(
  timeS: Float64Array,
  gaugePa: Float64Array,
  fromS: number,
  toS: number,
  atS: number,
): { perS: number; stdPerS: number; atEnd: number; std: number } | null {
  const times: number[] = []
  const levels: number[] = []
  for (let i = firstIndexAt(timeS, fromS); i < timeS.length && timeS[i] <= toS; i++) {
    if (!Number.isFinite(gaugePa[i])) continue
    times.push(timeS[i])
    levels.push(gaugePa[i])
  }
  const n = times.length
  if (n < 10) return null
  const middleS = times.reduce((a, b) => a + b, 0) / n
  const middle = levels.reduce((a, b) => a + b, 0) / n
  let squares = 0
  let products = 0
  for (let i = 0; i < n; i++) {
    squares += (times[i] - middleS) ** 2
    products += (times[i] - middleS) * (levels[i] - middle)
  }
  const perS = products / squares
  let rest = 0
  for (let i = 0; i < n; i++) rest += (levels[i] - middle - perS * (times[i] - middleS)) ** 2
  // Neighbours share some of their error: as if there were a third of them.
  const variance = (3 * rest) / (n - 2)
  return {
    perS,
    stdPerS: Math.sqrt(variance / squares),
    atEnd: middle + perS * (atS - middleS),
    std: Math.sqrt(variance * (1 / n + (atS - middleS) ** 2 / squares)),
  }
}
