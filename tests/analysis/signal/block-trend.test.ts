import { expect, it } from 'vitest'
import { blockEdges } from '#analysis/signal/block-averages.ts'
import { blockTrend } from '#analysis/signal/block-trend.ts'

const edges = blockEdges(0, 800, 1, 130)
const kept = Array.from({ length: edges.length - 1 }, (_, b) => b)
const middleS = Float64Array.from(kept, (b) => (edges[b] + edges[b + 1]) / 2)

/** A thermometer that reads every so many seconds a drift of 0.3 K/h, with a hundredth of a kelvin of rectangular noise. */
function sparse(everyS: number, firstS: number) {
  const timeS = Float64Array.from(
    { length: Math.floor((800 - firstS) / everyS) },
    (_, i) => firstS + i * everyS,
  )
  const reading = timeS.map((t, i) => 293.15 + (0.3 * t) / 3600 + 0.02 * (((i * 7919) % 101) / 100 - 0.5))
  return blockTrend(timeS, reading, { edges, kept, middleS }, null, true)
}

it.each([
  [1, 0.5],
  [15, 4],
  [15, 11],
  [30, 22],
])(
  'blockTrend(one reading in %i s, the first after %f s) knows every block to hundredths of a kelvin',
  (everyS, firstS) => {
    const { value, variance, unseen } = sparse(everyS, firstS)
    for (const [i, t] of middleS.entries()) {
      expect(Math.sqrt(variance[i]), `std at ${t} s`).toBeGreaterThan(1e-4)
      expect(Math.sqrt(variance[i]), `std at ${t} s`).toBeLessThan(0.06)
      expect(Math.abs(value[i] - 293.15 - (0.3 * t) / 3600), `error at ${t} s`).toBeLessThan(0.06)
    }
    expect(unseen).toBeLessThan(0.06)
  },
)
