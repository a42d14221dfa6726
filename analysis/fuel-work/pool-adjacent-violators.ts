/**
 * Least-squares fit of a sequence that never falls: neighbors in the wrong order are replaced by their weighted mean.
 *
 * @param values in the order in which they should rise
 * @param weights > 0, one a value
 * @returns the fitted values, same length
 * @throws RangeError for lengths that differ
 *
 * Source: [isotonic-pava], the pool-adjacent-violators algorithm
 * Check: 1 0 4 3 3 5 4 2 0 → 0.5 0.5 3 3 3 3 3 3 3 (example of isoreg in the R manual; computed exactly)
 */
export function poolAdjacentViolators(values: ArrayLike<number>, weights: ArrayLike<number>): Float64Array {
  if (values.length !== weights.length)
    throw new RangeError(`${values.length} values and ${weights.length} weights`)
  const blocks: { mean: number; weight: number; count: number }[] = []
  for (let i = 0; i < values.length; i++) {
    let block = { mean: values[i], weight: weights[i], count: 1 }
    for (let last = blocks.at(-1); last && last.mean > block.mean; last = blocks.at(-1)) {
      const weight = last.weight + block.weight
      const mean = (last.mean * last.weight + block.mean * block.weight) / weight
      block = { mean, weight, count: last.count + block.count }
      blocks.pop()
    }
    blocks.push(block)
  }
  return Float64Array.from(blocks.flatMap(({ mean, count }) => new Array<number>(count).fill(mean)))
}
