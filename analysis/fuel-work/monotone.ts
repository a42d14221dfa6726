/**
 * A smooth interpolating curve, monotone between its points, with its slope at each: piecewise cubic through points in order, with slopes that keep every piece monotone: the harmonic mean of the two
 * neighboring chords weighted by their lengths, zero where they turn.
 *
 * @param x strictly rising, two or more
 * @throws RangeError for fewer than two points or x that does not rise
 *
 * Source: [fritsch-butland]
 * Check: squares at 0, 1, 2, 3 → 2.21875 at 1.5 (computed: slopes 3/2 and 15/4 by hand)
 */
export function monotoneCurve(x: ArrayLike<number>, y: ArrayLike<number>) {
  const n = x.length
  if (n < 2 || y.length !== n) throw new RangeError('a curve needs two points or more')
  const width = Float64Array.from({ length: n - 1 }, (_, i) => x[i + 1] - x[i])
  if (width.some((w) => !(w > 0))) throw new RangeError('x does not rise')
  const chord = Float64Array.from({ length: n - 1 }, (_, i) => (y[i + 1] - y[i]) / width[i])
  const slope = new Float64Array(n)
  slope[0] = chord[0]
  slope[n - 1] = chord[n - 2]
  for (let i = 1; i < n - 1; i++) {
    if (chord[i - 1] * chord[i] <= 0) continue
    const before = 2 * width[i] + width[i - 1]
    const after = width[i] + 2 * width[i - 1]
    slope[i] = (before + after) / (before / chord[i - 1] + after / chord[i])
  }
  return { x: Float64Array.from(x), y: Float64Array.from(y), slope }
}

export type MonotoneCurve = Readonly<ReturnType<typeof monotoneCurve>>

/** Value at x; null outside the range of the points. */
export function curveAt({ x, y, slope }: MonotoneCurve, at: number): number | null {
  const last = x.length - 1
  if (!(at >= x[0] && at <= x[last])) return null
  let i = 0
  while (i < last - 1 && at > x[i + 1]) i++
  const width = x[i + 1] - x[i]
  const t = (at - x[i]) / width
  const rest = 1 - t
  return (
    rest * rest * (1 + 2 * t) * y[i] +
    t * t * (3 - 2 * t) * y[i + 1] +
    width * t * rest * (rest * slope[i] - t * slope[i + 1])
  )
}

/**
 * Least-squares fit of a non-decreasing sequence: neighbors in the wrong order are replaced by their weighted mean.
 *
 * @param values in their expected rising order
 * @param weights > 0, one per value
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

/** A reading at a volume, in the order of volume. */
export interface RunPoint {
  readonly usableM3: number
  readonly reading: number
  readonly std: number
}

/** Whether more fuel makes the reading rise (+1) or fall (−1): the sign that more pairs of points agree on (Kendall). */
export function senseOf(points: readonly RunPoint[]): 1 | -1 | 0 {
  let agree = 0
  for (const a of points)
    for (const b of points) if (b.usableM3 > a.usableM3) agree += Math.sign(b.reading - a.reading)
  return agree > 0 ? 1 : agree < 0 ? -1 : 0
}

/**
 * Rejects the fewest points that leave a monotone curve.
 *
 * Reversals: points outside the longest subsequence that moves in the sender's sense, noise allowed. Flat top:
 * points beyond the first of a plateau at the end.
 *
 * @param points of one run, in one attitude and direction
 * @param still readings that differ by less than this are equal
 * @returns the points kept, the reversals, the points of the flat top, and the fuel at which the sender stops moving; null when
 * it moves to the last point
 * Source: longest monotone subsequence, dynamic programming (textbook); limits are own figures
 */
export function sortRun<P extends RunPoint>(points: readonly P[], sense: 1 | -1, still: number) {
  const sorted = [...points].sort((a, b) => a.usableM3 - b.usableM3)
  const longest = longestMonotone(sorted, sense)
  const reversals = sorted.filter((point) => !longest.includes(point))
  const last = longest.at(-1)
  let first = longest.length - 1
  while (first > 0 && last && Math.abs(longest[first - 1].reading - last.reading) <= still) first--
  const flatTop = longest.slice(first + 1)
  return {
    kept: longest.slice(0, first + 1),
    reversals,
    flatTop,
    reachM3: flatTop.length > 0 ? longest[first].usableM3 : null,
  }
}

function longestMonotone<P extends RunPoint>(sorted: readonly P[], sense: 1 | -1): P[] {
  const length: number[] = []
  const from: number[] = []
  let best = -1
  for (let i = 0; i < sorted.length; i++) {
    length[i] = 1
    from[i] = -1
    for (let j = 0; j < i; j++) {
      const noise = 4 * Math.hypot(sorted[i].std, sorted[j].std)
      const follows = sense * (sorted[i].reading - sorted[j].reading) >= -noise
      if (follows && length[j] + 1 > length[i]) {
        length[i] = length[j] + 1
        from[i] = j
      }
    }
    if (best < 0 || length[i] > length[best]) best = i
  }
  const chain: P[] = []
  for (let i = best; i >= 0; i = from[i]) chain.unshift(sorted[i])
  return chain
}
