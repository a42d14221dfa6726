/** A run of equal readings, from an index on. */
export interface EqualRun {
  readonly from: number
  readonly length: number
}

/**
 * The longest run of equal readings between two indices, the first of several, and the length of the next longest.
 *
 * @param to not included; NaN equals no reading
 */
export function equalRuns(
  reading: Float64Array,
  from = 0,
  to = reading.length,
): { readonly longest: EqualRun; readonly nextLength: number } {
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
