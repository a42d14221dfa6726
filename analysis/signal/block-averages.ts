import { mean } from '#analysis/numeric/moments.ts'

/**
 * Edges of time blocks that are short at the start, where a hold changes fast, and then of equal length.
 *
 * @param fromS, toS span, [s]
 * @param shortestS no block is shorter, [s]
 * @param most approximate maximum number of blocks
 */
export function blockEdges(fromS: number, toS: number, shortestS: number, most: number): Float64Array {
  const span = toS - fromS
  const longest = Math.max(shortestS, span / (most * 0.8))
  let width = Math.max(shortestS, span / (most * 5))
  const edges = [fromS]
  let at = fromS
  while (at + width * 1.5 < toS) {
    at += width
    edges.push(at)
    width = Math.min(longest, width * 1.06)
  }
  edges.push(toS)
  return Float64Array.from(edges)
}

/** First index from `from` up to `to` whose time is not before `atS`; times ascend. */
export function firstIndexAt(timeS: Float64Array, atS: number, from = 0, to = timeS.length): number {
  let low = from
  let high = to
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeS[middle] < atS) low = middle + 1
    else high = middle
  }
  return low
}

/** First and last index (not included) of the readings of a block. */
export type IndexRange = readonly [from: number, to: number]

/** Readings between each edge and the next. */
export function rangesBetween(timeS: Float64Array, edges: readonly number[]): IndexRange[] {
  const at = edges.map((edge) => firstIndexAt(timeS, edge))
  return at.slice(1).map((to, k) => [at[k], to])
}

/** At most so many blocks of equal time that have readings; fewer readings than that are a block each. */
export function equalBlocks(timeS: Float64Array, most: number): IndexRange[] {
  const n = timeS.length
  if (n <= most) return Array.from(timeS, (_, i) => [i, i + 1])
  const spanS = timeS[n - 1] - timeS[0]
  const edges = Array.from({ length: most }, (_, k) => timeS[0] + (spanS * k) / most)
  return rangesBetween(timeS, [...edges, Number.POSITIVE_INFINITY]).filter(([from, to]) => to > from)
}

/** Mean of each block; NaN of an empty one. */
export function meansOver(values: Float64Array, blocks: readonly IndexRange[]): Float64Array {
  return Float64Array.from(blocks, ([from, to]) => mean(values.subarray(from, to)))
}

/**
 * Means over blocks, without spikes: readings further from both neighbours than `spikeLimit`
 * while the neighbours agree with each other.
 *
 * @param timeS sample times, ascending, [s]
 * @param reading samples, same length; NaN is left out
 * @param spikeLimit in the reading's unit; Infinity keeps all
 * @returns mean and number of the samples kept in each block, and the number left out as spikes; the caller skips blocks
 * without samples, whose mean is meaningless
 */
export function blockAverages(
  timeS: Float64Array,
  reading: Float64Array,
  edges: Float64Array,
  spikeLimit: number,
) {
  const blocks = edges.length - 1
  const mean = new Float64Array(blocks)
  const count = new Int32Array(blocks)
  let spikes = 0
  let i = firstIndexAt(timeS, edges[0])
  let samples = 0
  for (let b = 0; b < blocks; b++) {
    // Blocks are about equally long: the edge is near.
    const near = i + 2 * samples
    const isNear = near < timeS.length && timeS[near] >= edges[b + 1]
    let end = firstIndexAt(timeS, edges[b + 1], i, isNear ? near : timeS.length)
    samples = end - i
    if (b === blocks - 1) while (timeS[end] === edges[b + 1]) end++
    let sum = 0
    let kept = 0
    while (i < end) {
      const value = reading[i]
      const next = reading[i + 1]
      const step = next - value
      // Two close readings are both kept: a spike is far from either neighbour.
      if (step < spikeLimit && step > -spikeLimit && i + 1 < end) {
        sum += value
        sum += next
        kept += 2
        i += 2
        continue
      }
      // An index of -1 would make every load slow.
      const before = i === 0 ? Number.NaN : reading[i - 1]
      i++
      if (Number.isNaN(value)) continue
      if (
        Math.abs(value - before) > spikeLimit &&
        Math.abs(step) > spikeLimit &&
        Math.abs(next - before) < spikeLimit
      ) {
        spikes++
        continue
      }
      sum += value
      kept++
    }
    mean[b] = kept > 0 ? sum / kept : 0
    count[b] = kept
  }
  return { mean, count, spikes }
}
