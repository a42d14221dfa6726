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
