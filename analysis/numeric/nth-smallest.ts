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
