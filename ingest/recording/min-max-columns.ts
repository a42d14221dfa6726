import { firstIndexAt } from '#analysis/signal/block-averages.ts'

/** The extremes of each slice: columns of equal length in time order. */
export interface MinMaxSlices {
  /** Middle of the slice's samples, [s]. */
  readonly timeS: Float64Array
  readonly low: Float64Array
  readonly high: Float64Array
}

/**
 * Minimum and maximum of each of at most `points` slices of equal duration, for a chart of that many columns: no
 * peak is lost. A slice without samples is left out, so that a gap stays a gap. With no more samples than slices,
 * each sample is its own slice.
 *
 * @param timeS ascending, [s]
 * @param values one per time
 * @param points at least 1
 */
export function minMaxColumns(timeS: Float64Array, values: Float64Array, points: number): MinMaxSlices {
  if (timeS.length !== values.length)
    throw new RangeError(`${timeS.length} times for ${values.length} values`)
  if (!(points >= 1)) throw new RangeError(`${points} is not a number of slices`)
  const count = timeS.length
  if (count <= points) return { timeS: timeS.slice(), low: values.slice(), high: values.slice() }
  const slices = Math.floor(points)
  const middleS = new Float64Array(slices)
  const low = new Float64Array(slices)
  const high = new Float64Array(slices)
  const widthS = (timeS[count - 1] - timeS[0]) / slices
  let filled = 0
  let from = 0
  for (let k = 1; from < count; k++) {
    const to = k === slices ? count : firstIndexAt(timeS, timeS[0] + k * widthS, from)
    if (to === from) continue
    let smallest = values[from]
    let largest = smallest
    for (let i = from + 1; i < to; i++) {
      const value = values[i]
      if (value < smallest) smallest = value
      else if (value > largest) largest = value
    }
    middleS[filled] = (timeS[from] + timeS[to - 1]) / 2
    low[filled] = smallest
    high[filled] = largest
    filled++
    from = to
  }
  return { timeS: middleS.subarray(0, filled), low: low.subarray(0, filled), high: high.subarray(0, filled) }
}
