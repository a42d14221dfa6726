import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type Frame, isDense, traceBars } from '#dashboard/web/parts/line-path.ts'

const frame: Frame = { left: 10, top: 5, width: 100, height: 50, x: [0, 100], y: [0, 50] }

function drawn(x: ArrayLike<number>, y: ArrayLike<number | null>, within = frame) {
  const bars: { column: number; top: number; bottom: number }[] = []
  traceBars({ x, y }, within, (column, top, bottom) => bars.push({ column, top, bottom }))
  return bars
}

describe('traceBars', () => {
  test('traceBars() covers in each column of pixels its readings and the way from the one before', () => {
    expect(drawn([0.2, 0.5, 1.5], [10, 20, 12])).toEqual([
      { column: 10, top: 35, bottom: 45 },
      { column: 11, top: 35, bottom: 43 },
    ])
  })

  test('traceBars() draws nothing where a value is no number, and begins anew behind it', () => {
    const bars = drawn([0, 1, 2, 3, 4, 5], [10, Number.NaN, 20, null, Number.POSITIVE_INFINITY, 30])
    expect(bars.map(({ column }) => column)).toEqual([10, 12, 15])
    expect(bars.map(({ top, bottom }) => bottom - top)).toEqual([0, 0, 0])
  })

  test('traceBars() loses no extreme and leaves no hole: each bar touches the one before, for any data', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.double({ min: 0, max: 50, noNaN: true }), fc.integer({ min: 1, max: 40 })), {
          minLength: 1,
          maxLength: 400,
        }),
        (steps) => {
          let at = 0
          const x = steps.map(([, step]) => {
            at += step / 10
            return at
          })
          const within: Frame = { ...frame, x: [0, at], width: at }
          const y = steps.map(([value]) => value)
          const bars = drawn(x, y, within)
          expect(Math.min(...bars.map(({ top }) => top))).toBeCloseTo(55 - Math.max(...y), 9)
          expect(Math.max(...bars.map(({ bottom }) => bottom))).toBeCloseTo(55 - Math.min(...y), 9)
          for (const [k, bar] of bars.entries()) {
            expect(bar.bottom).toBeGreaterThanOrEqual(bar.top)
            if (k === 0) continue
            expect(bar.column).toBe(bars[k - 1].column + 1)
            expect(bar.top).toBeLessThanOrEqual(bars[k - 1].bottom + 1e-9)
            expect(bar.bottom).toBeGreaterThanOrEqual(bars[k - 1].top - 1e-9)
          }
        },
      ),
      { seed: 11, numRuns: 200 },
    )
  })
})

describe('isDense', () => {
  test('isDense() is so from one and a half readings a pixel on, counted where the readings are', () => {
    const every = (stepS: number, untilS: number) =>
      Float64Array.from({ length: Math.round(untilS / stepS) }, (_, i) => i * stepS)
    const dense = (x: Float64Array) => isDense({ x, y: x }, frame)
    expect([dense(every(1, 100)), dense(every(0.5, 100)), dense(every(0.5, 10))]).toEqual([false, true, true])
    expect(dense(new Float64Array(0))).toBe(false)
  })
})
