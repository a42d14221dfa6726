import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { numberLabels, timeLabels, timeSplits, timeSteps } from '#dashboard/web/parts/axis.ts'

describe('labels of the axes', () => {
  test('numberLabels() never reads the same twice, for steps 1, 2, 2.5 and 5 of any size', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(1, 2, 2.5, 5),
        fc.integer({ min: -5, max: 3 }),
        fc.integer({ min: -40, max: 40 }),
        (mantissa, power, first) => {
          const step = mantissa * 10 ** power
          const splits = Array.from({ length: 7 }, (_, i) => (first + i) * step)
          const labels = numberLabels(splits, step)
          expect(new Set(labels).size).toBe(splits.length)
        },
      ),
    )
  })

  test('timeLabels() never reads the same twice, for every step the axis may take', () => {
    for (const step of timeSteps) {
      const splits = Array.from({ length: 9 }, (_, i) => 118 + i * step)
      expect(new Set(timeLabels(splits, step, 118)).size).toBe(splits.length)
    }
  })

  test('timeSplits() counts from the start of the hold, which is labelled 0:00', () => {
    const splits = timeSplits(233.4, 200, 533.4, 60)
    expect(splits.map((at) => Number(at.toFixed(6)))).toEqual([233.4, 293.4, 353.4, 413.4, 473.4, 533.4])
    expect(timeLabels(splits, 60, 233.4)).toEqual(['0:00', '1:00', '2:00', '3:00', '4:00', '5:00'])
  })
})
