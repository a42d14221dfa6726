import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { extremes, type Frame, firstAt, tracePath } from '#dashboard/web/parts/line-path.ts'

const frame: Frame = { left: 10, top: 5, width: 100, height: 50, x: [0, 100], y: [0, 50] }

function drawn(x: ArrayLike<number>, y: ArrayLike<number | null>, within = frame) {
  const strokes: [number, number][][] = []
  const seen = tracePath({ x, y }, within, {
    moveTo: (a, b) => strokes.push([[a, b]]),
    lineTo: (a, b) => strokes.at(-1)!.push([a, b]),
  })
  return { strokes, seen }
}

describe('tracePath', () => {
  test('tracePath() puts (0, 50) in the upper left corner and (100, 0) in the lower right one', () => {
    const { strokes } = drawn([0, 100], [50, 0])
    expect(strokes[0][0]).toEqual([10, 5])
    expect(strokes[0].at(-1)).toEqual([110, 55])
  })

  test('tracePath() lifts the pen where a value is no number: NaN, null or infinite', () => {
    const { strokes } = drawn(
      [0, 10, 20, 30, 40, 50, 60],
      [1, Number.NaN, 2, null, 3, Number.POSITIVE_INFINITY, 4],
    )
    expect(strokes).toHaveLength(4)
  })

  test('tracePath() loses no extreme: lowest and highest drawn are those of the data, for any data', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 50, noNaN: true }), { minLength: 1, maxLength: 900 }),
        (values) => {
          const x = values.map((_, i) => (i * 99) / values.length)
          const heights = drawn(x, values)
            .strokes.flat()
            .map(([, b]) => b)
          expect(Math.min(...heights)).toBeCloseTo(55 - Math.max(...values), 9)
          expect(Math.max(...heights)).toBeCloseTo(55 - Math.min(...values), 9)
        },
      ),
      { seed: 7, numRuns: 200 },
    )
  })

  test('tracePath() never goes back in time', () => {
    const x = Array.from({ length: 700 }, (_, i) => i / 7)
    const y = x.map((t) => Math.sin(t * 40) * 20 + 25)
    const across = drawn(x, y)
      .strokes.flat()
      .map(([a]) => Math.floor(a))
    expect(across).toEqual([...across].sort((a, b) => a - b))
  })

  test('tracePath() goes on to the first reading beyond either edge, so that the line leaves the frame', () => {
    const x = [0, 40, 60, 100, 140]
    const { strokes, seen } = drawn(x, [1, 2, 3, 4, 5], { ...frame, x: [50, 90] })
    expect(strokes[0][0][0]).toBeLessThan(10)
    expect(strokes[0].at(-1)![0]).toBeGreaterThan(110)
    expect(seen).toBe(2)
  })
})

describe('extremes', () => {
  test('extremes() looks only between the times and past what is no number', () => {
    const y = [99, 3, Number.NaN, 7, null, 5, -99]
    expect(extremes({ x: [0, 1, 2, 3, 4, 5, 6], y }, 1, 5)).toEqual([3, 7])
  })
  test('firstAt() is the first index not before the time, the length after the end', () => {
    expect([
      firstAt([1, 2, 4], 0),
      firstAt([1, 2, 4], 2),
      firstAt([1, 2, 4], 3),
      firstAt([1, 2, 4], 5),
    ]).toEqual([0, 1, 2, 3])
  })
})
