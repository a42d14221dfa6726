import { memoize } from '#analysis/numeric/memoize.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'

/** Readings per window: few enough for a linear change, enough for meaningful shares of codes. */
const together = 40
/** Number of windows, spread over all readings. */
const mostWindows = 40
/** Trial noise sizes, over a step. */
const sizes = [0.04, 0.07, 0.1, 0.125, 0.15, 0.175, 0.2, 0.225, 0.25, 0.275, 0.3, 0.33, 0.37, 0.42, 0.5, 0.6]
/** Trial positions of the quantity per step, and the maximum distance from a code. */
const places = 16
const reach = 8
/** Share of readings that are spikes, and the number of codes they spread over. Own figure, conservative. */
const spikeShare = 0.004
const spikeCodes = 8
/** A size whose log-likelihood is further below the best is rejected: one-sided 97.5 %. */
const believable = 1.92
/** A quantity that moves faster than this, in steps a window, gives no information about the noise. */
const fastest = 2

/**
 * The least noise that explains the observed codes, over a step: the lower end of its profile likelihood.
 *
 * Scatter alone does not determine it: near the edge between two codes, minimal noise toggles the reading. The frequency
 * of a third code determines it, with the quantity's position in each window free.
 *
 * @param reading samples in time order; NaN is left out
 * @param step converter's step, > 0
 */
export function leastDither(reading: Float64Array, step: number): number {
  const logLikelihood = new Float64Array(sizes.length)
  const most = new Float64Array(sizes.length)
  const at = new Int32Array(together)
  const stride = Math.max(together, Math.floor((reading.length - together) / mostWindows))
  for (let from = together; from + 2 * together <= reading.length; from += stride) {
    const { slope, middle } = lineOver(reading, from - together, from + 2 * together, step)
    if (!(Math.abs(slope) * together < fastest)) continue
    let count = 0
    for (let i = from; i < from + together; i++) {
      const apart = reading[i] / step - middle - slope * (i - from - together / 2)
      if (!Number.isNaN(apart))
        at[count++] = Math.round(Math.min(reach - 1, Math.max(1 - reach, apart)) * places)
    }
    for (const [k, size] of sizes.entries()) {
      const table = logShares(size)
      most[k] = Number.NEGATIVE_INFINITY
      for (let start = -places / 2; start <= places / 2; start++) {
        let sum = 0
        for (let i = 0; i < count; i++) sum += table[at[i] - start + reach * places]
        if (sum > most[k]) most[k] = sum
      }
    }
    // Two adjacent codes fit small noise as well as large: the quantity may be at the edge.
    if (Math.round(rangeOf(reading.subarray(from, from + together)) / step) < 2)
      for (let k = sizes.length - 2; k >= 0; k--) most[k] = Math.max(most[k], most[k + 1])
    for (let k = 0; k < sizes.length; k++) logLikelihood[k] += most[k]
  }
  const best = Math.max(...logLikelihood)
  return sizes[logLikelihood.findIndex((each) => each >= best - believable)]
}

/** Log of the share of readings whose code is at a given distance from the quantity, in sixteenths of a step. */
const logShares = memoize((size: number) =>
  Float64Array.from({ length: 2 * reach * places + 1 }, (_, k) => {
    const apart = k / places - reach
    const share = normalCdf((apart + 0.5) / size) - normalCdf((apart - 0.5) / size)
    return Math.log((1 - spikeShare) * share + spikeShare / spikeCodes)
  }),
)

/** Slope and middle of a straight line through readings, in steps. */
function lineOver(
  reading: Float64Array,
  from: number,
  to: number,
  step: number,
): { slope: number; middle: number } {
  const half = (from + to - 1) / 2
  let [count, sum, products, squares] = [0, 0, 0, 0]
  for (let i = from; i < to; i++) {
    const value = reading[i] / step
    if (Number.isNaN(value)) continue
    count++
    sum += value
    products += (i - half) * value
    squares += (i - half) ** 2
  }
  return { slope: products / squares, middle: sum / count }
}
