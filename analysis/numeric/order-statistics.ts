/**
 * The value at a given place of the sorted values, in linear time. Partially sorts them in place.
 *
 * @param values without NaN
 * @param place from 0
 * @throws RangeError when there is no such place
 *
 * Source: [hoare-1961]
 */
export function nthSmallest(values: Float64Array, place: number): number {
  if (!(place >= 0 && place < values.length))
    throw new RangeError('nthSmallest needs a place among the values')
  let low = 0
  let high = values.length - 1
  while (low < high) {
    const pivot = values[(low + high) >> 1]
    let i = low
    let j = high
    while (i <= j) {
      while (values[i] < pivot) i++
      while (values[j] > pivot) j--
      if (i > j) break
      const swapped = values[i]
      values[i++] = values[j]
      values[j--] = swapped
    }
    if (place <= j) high = j
    else if (place >= i) low = i
    else break
  }
  return values[place]
}

/** Median, the upper of the two middle values of an even number; NaN of nothing. */
export function medianOf(values: Float64Array): number {
  return values.length === 0 ? Number.NaN : nthSmallest(Float64Array.from(values), values.length >> 1)
}

/** Quantile at `share`, 0 smallest to 1 largest; NaN of nothing. */
export function quantileOf(values: Float64Array, share: number): number {
  const last = values.length - 1
  return last < 0 ? Number.NaN : nthSmallest(Float64Array.from(values), Math.round(share * last))
}

/** Largest value less the smallest, without NaN; 0 of nothing. */
export function rangeOf(values: ArrayLike<number>): number {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = 0; i < values.length; i++) {
    if (values[i] < low) low = values[i]
    if (values[i] > high) high = values[i]
  }
  return Math.max(0, high - low)
}
