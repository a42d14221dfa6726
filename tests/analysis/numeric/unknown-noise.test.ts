import { describe, expect, it } from 'vitest'
import { UnknownNoiseFit } from '#analysis/numeric/unknown-noise.ts'
import { seededRandom } from '#ingest/simulator/random.ts'

/** Blocks of unequal spacing, as around a gap. */
const timeS = Float64Array.from({ length: 50 }, (_, i) => 12.5 + 10 * i + (i > 30 ? 35 : 0) + (i % 3))
const middles = [...timeS.slice(5, -5)].map((t, i) => (t + timeS[i + 4]) / 2)
const columns = middles.flatMap((atS) => [
  timeS.map((t) => (t > atS ? 1 : 0)),
  timeS.map((t) => Math.max(0, t - atS)),
])

/** White scatter, scatter correlated from block to block, and a random walk, with a step of one unit in the middle or without. */
const rows = [1, 2, 3, 4].flatMap((seed) =>
  [0, 0.8].flatMap((correlation) =>
    [0, 0.5].flatMap((walk) =>
      [0, 1].map((step) => {
        const random = seededRandom(seed)
        let [scatter, walked] = [0, 0]
        return timeS.map((_, i) => {
          scatter = correlation * scatter + Math.sqrt(1 - correlation ** 2) * random.normal()
          walked += walk * random.normal()
          return scatter + walked + (i > 25 ? 4 * step : 0)
        })
      }),
    ),
  ),
)

describe('UnknownNoiseFit', () => {
  it('canReach(column, level) admits every column whose tail is below the level (law of its bound)', () => {
    for (const row of rows) {
      const fit = new UnknownNoiseFit(timeS, row)
      for (const column of columns) expect(fit.canReach(column, fit.test(column)!.tail)).toBe(true)
    }
  })

  it('canReach(column, level) spares the test of nearly every column of noise alone', () => {
    const spared = rows
      .filter((_, i) => i % 2 === 0)
      .flatMap((row) => {
        const fit = new UnknownNoiseFit(timeS, row)
        return columns.map((column) => !fit.canReach(column, 0.005 / 4 / middles.length))
      })
    expect(spared.filter(Boolean).length / spared.length).toBeGreaterThan(0.95)
  })

  it('test(column) is the same whether columns were accepted before the first test or after it', () => {
    for (const row of rows) {
      const [before, after] = [new UnknownNoiseFit(timeS, row), new UnknownNoiseFit(timeS, row)]
      after.test(columns[0])
      for (const fit of [before, after]) fit.accept(columns[40])
      expect(after.test(columns[71])).toEqual(before.test(columns[71]))
    }
  })
})
