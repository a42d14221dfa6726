/** A reading at a volume, in the order of volume. */
export interface RunPoint {
  readonly usableM3: number
  readonly reading: number
  readonly std: number
}

export interface SortedRun<P extends RunPoint> {
  readonly kept: readonly P[]
  readonly reversals: readonly P[]
  /** Points above the fuel from which the sender no longer moves. */
  readonly flatTop: readonly P[]
  /** Fuel from which it no longer moves; null when it moves to the last point. */
  readonly reachM3: number | null
}

/** Whether more fuel makes the reading rise (+1) or fall (−1): the sign that more pairs of points agree on (Kendall). */
export function senseOf(points: readonly RunPoint[]): 1 | -1 | 0 {
  let agree = 0
  for (const a of points)
    for (const b of points) if (b.usableM3 > a.usableM3) agree += Math.sign(b.reading - a.reading)
  return agree > 0 ? 1 : agree < 0 ? -1 : 0
}

/**
 * Sorts out what cannot belong to a monotone curve, with as few points rejected as possible.
 *
 * Reversals: what is left out of the longest subsequence that moves in the sender's sense, noise allowed. Flat top:
 * points beyond the first of a plateau at the end.
 *
 * @param points of one run, in one attitude and direction
 * @param still readings that differ by less than this are the same
 * Source: longest monotone subsequence, dynamic programming (textbook); limits are own figures
 */
export function sortRun<P extends RunPoint>(
  points: readonly P[],
  sense: 1 | -1,
  still: number,
): SortedRun<P> {
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
