/** A smooth curve through points that never turns between them. */
export interface MonotoneCurve {
  /** Rising. */
  readonly x: Float64Array
  readonly y: Float64Array
  /** Slope at each point. */
  readonly slope: Float64Array
}

/**
 * Piecewise cubic through points in order, with slopes that keep every piece monotone: the harmonic mean of the two
 * neighboring chords weighted by their lengths, zero where they turn.
 *
 * @param x strictly rising, two or more
 * @throws RangeError for fewer than two points or x that does not rise
 *
 * Source: [fritsch-butland]
 * Check: squares at 0, 1, 2, 3 → 2.21875 at 1.5 (computed: slopes 3/2 and 15/4 by hand)
 */
export function monotoneCurve(x: ArrayLike<number>, y: ArrayLike<number>): MonotoneCurve {
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

/** Value at a place; null outside the points, where nothing was measured. */
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
