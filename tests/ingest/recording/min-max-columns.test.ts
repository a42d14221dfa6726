import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { minMaxColumns } from '#ingest/recording/min-max-columns.ts'

const series = fc
  .array(fc.tuple(fc.integer({ min: 0, max: 50 }), fc.double({ noNaN: true, min: -1e6, max: 1e6 })), {
    maxLength: 300,
  })
  .map((steps) => {
    let timeS = 0
    const times = steps.map(([stepS]) => {
      timeS += stepS
      return timeS
    })
    return { timeS: Float64Array.from(times), values: Float64Array.from(steps, ([, value]) => value) }
  })

describe('minMaxColumns', () => {
  it('minMaxColumns(no more samples than slices) are the samples', () => {
    const timeS = Float64Array.of(0, 1, 5)
    const values = Float64Array.of(3, 1, 2)
    const slices = minMaxColumns(timeS, values, 3)
    expect(slices).toEqual({ timeS, low: values, high: values })
    // Copies: the columns of a running session grow and change.
    timeS.fill(9)
    values.fill(9)
    const { low, high } = slices
    expect([slices.timeS, low, high].map((column) => Array.from(column))).toEqual([
      [0, 1, 5],
      [3, 1, 2],
      [3, 1, 2],
    ])
  })

  it('minMaxColumns(ten samples, two slices) has the extremes of each half', () => {
    const timeS = Float64Array.from({ length: 10 }, (_, k) => k)
    const values = Float64Array.of(0, 5, -1, 2, 1, 7, 8, 6, 9, 7)
    const slices = minMaxColumns(timeS, values, 2)
    expect(Array.from(slices.timeS)).toEqual([2, 7])
    expect(Array.from(slices.low)).toEqual([-1, 6])
    expect(Array.from(slices.high)).toEqual([5, 9])
  })

  it('minMaxColumns(a gap) has no slice in it', () => {
    const timeS = Float64Array.of(0, 1, 2, 3, 96, 97, 98, 99)
    const slices = minMaxColumns(timeS, timeS, 4)
    expect(Array.from(slices.timeS)).toEqual([1.5, 97.5])
  })

  it('minMaxColumns(any series) loses no peak, invents none and keeps time order', () => {
    fc.assert(
      fc.property(series, fc.integer({ min: 1, max: 40 }), ({ timeS, values }, points) => {
        const slices = minMaxColumns(timeS, values, points)
        expect(slices.timeS.length).toBeLessThanOrEqual(Math.max(points, 1))
        expect(slices.low.length).toBe(slices.timeS.length)
        if (values.length === 0) return
        expect(Math.min(...slices.low)).toBe(Math.min(...values))
        expect(Math.max(...slices.high)).toBe(Math.max(...values))
        expect([...slices.low, ...slices.high].every((value) => values.includes(value))).toBe(true)
        expect(Array.from(slices.timeS)).toEqual(Array.from(slices.timeS).sort((a, b) => a - b))
      }),
    )
  })

  it('minMaxColumns(columns of unequal length, no slices) throws a RangeError', () => {
    expect(() => minMaxColumns(new Float64Array(2), new Float64Array(3), 5)).toThrow(RangeError)
    expect(() => minMaxColumns(new Float64Array(2), new Float64Array(3), 5)).toThrow('2 times for 3 values')
    for (const points of [0, 0.9, Number.NaN])
      expect(() => minMaxColumns(new Float64Array(2), new Float64Array(2), points)).toThrow(
        `${points} is not a number of slices`,
      )
    expect(minMaxColumns(Float64Array.of(0, 1), Float64Array.of(3, 4), 1.5)).toMatchObject({
      low: Float64Array.of(3),
      high: Float64Array.of(4),
    })
  })
})
