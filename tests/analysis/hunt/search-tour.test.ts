import { expect, test } from 'vitest'
import { type Stop, searchTour } from '#analysis/hunt/search-tour.ts'
import { seededRandom } from '#ingest/simulator/random.ts'

/** Every order of a list. */
function* orders<T>(list: readonly T[]): Generator<readonly T[]> {
  if (list.length < 2) yield list
  else
    for (const [i, first] of list.entries())
      for (const rest of orders(list.toSpliced(i, 1))) yield [first, ...rest]
}

/** A leak shows in 95 % of looks at most, half as often at 0.02 scc/min (0 °C); a search that finds nothing costs 30 min more. */
const shows = (molPerS: number): number => (0.95 * molPerS) / (molPerS + 1.4871678e-8)

test('searchTour() takes at most 1.2 times as long as the exact searcher, the best of all 5,040 orders (40 made-up systems of 7 joints)', () => {
  const ratios = Array.from({ length: 40 }, (_, seed) => {
    const random = seededRandom(seed, 4)
    const stops: Stop[] = Array.from({ length: 7 }, (_, path) => ({
      path,
      section: `s${Math.floor(random.uniform(0, 3))}`,
    }))
    // One leak, at a joint and of a size that chance draws.
    const weights = stops.map(() => 0.02 + random.uniform(0, 1) ** 3)
    const total = weights.reduce((a, b) => a + b)
    const presents = stops.map(({ path }, i) => ({
      weight: weights[i] / total,
      leaks: [{ path, molPerS: 1e-8 * 60 ** random.uniform(0, 1) }],
    }))
    const minutesOf = (order: readonly Stop[]): number => {
      let clock = 0
      let found = 0
      let unfound = 0
      order.forEach(({ path, section }, i) => {
        clock += 1 + (i > 0 && section !== order[i - 1].section ? 1 : 0)
        const { weight, leaks } = presents[path]
        const seen = shows(leaks[0].molPerS)
        found += weight * seen * clock
        unfound += weight * (1 - seen)
      })
      return found + unfound * (clock + 30)
    }
    let best = Number.POSITIVE_INFINITY
    for (const order of orders(stops)) best = Math.min(best, minutesOf(order))
    const tour = searchTour(stops, { presents, paths: 7, looksDone: () => 0 })
    expect(tour.expectedMin).toBeCloseTo(minutesOf(tour.stops), 9)
    return tour.expectedMin / best
  })
  expect(Math.min(...ratios)).toBeGreaterThanOrEqual(1 - 1e-9)
  expect(Math.max(...ratios)).toBeLessThanOrEqual(1.2)
  expect(ratios.reduce((a, b) => a + b) / ratios.length).toBeLessThan(1.03)
})

test('searchTour() leaves out a stop that finds a leak less than once in 10,000 looks (own figure)', () => {
  const stops: Stop[] = [0, 1, 2].map((path) => ({ path, section: 's' }))
  /** A leak so large that 95 looks of 100 show it. */
  const leakAt = (path: number, weight: number) => ({ weight, leaks: [{ path, molPerS: 1 }] })
  const presents = [leakAt(0, 0.5), leakAt(1, 1.2e-4 / 0.95), leakAt(2, 0.8e-4 / 0.95)]
  const { stops: order } = searchTour(stops, { presents, paths: 3, looksDone: () => 0 })
  expect(order.map(({ path }) => path)).toEqual([0, 1])
})
