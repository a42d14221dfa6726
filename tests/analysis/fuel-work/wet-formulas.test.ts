import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { closeTheSum } from '#analysis/fuel-work/fills.ts'
import { handbookScheme, seepClass } from '#analysis/fuel-work/looks.ts'
import { curveAt, monotoneCurve, poolAdjacentViolators, sortRun } from '#analysis/fuel-work/monotone.ts'
import { fuelDensity, headPressurePa, massFromScale } from '#analysis/physics/fuel-properties.ts'

const ones = (n: number) => new Array<number>(n).fill(1)

describe('known values', () => {
  test('poolAdjacentViolators gives 0.5 0.5 and seven threes (R manual, example of isoreg)', () => {
    const fitted = poolAdjacentViolators([1, 0, 4, 3, 3, 5, 4, 2, 0], ones(9))
    expect([...fitted]).toEqual([0.5, 0.5, 3, 3, 3, 3, 3, 3, 3])
  })

  test('monotoneCurve through squares passes 2.21875 at 1.5 (computed by hand: slopes 3/2 and 15/4)', () => {
    expect(curveAt(monotoneCurve([0, 1, 2, 3], [0, 1, 4, 9]), 1.5)).toBeCloseTo(2.21875, 14)
  })

  test('closeTheSum of ten pours of 5 L ± 1 % against 50.4 L ± 0.1 L (computed)', () => {
    const pours = ones(10).map(() => ({ valueM3: 5e-3, halfWidthM3: 5e-5 }))
    const closed = closeTheSum(pours, { valueM3: 50.4e-3, halfWidthM3: 1e-4 })
    expect(closed.differenceM3).toBeCloseTo(0.4e-3, 12)
    expect(closed.stdDifferenceM3).toBeCloseTo(0.294392e-3, 9)
    expect(closed.factor).toBeCloseTo(1 + (0.008 * 75) / 78, 12)
  })

  test('headPressurePa of a meter of 721 kg/m³ is 7070.595 Pa (computed)', () => {
    expect(headPressurePa(721, 1)).toBeCloseTo(7070.59465, 4)
  })

  test('massFromScale adds 0.152 % for the air at 721 kg/m³ (computed)', () => {
    expect(massFromScale(10, 721)).toBeCloseTo(10.015171, 5)
  })

  test('fuelDensity of avgas falls by α = 1.27531e-3 of itself for a kelvin above 15 °C (method.md, computed)', () => {
    const at = (kelvin: number) => fuelDensity('avgas', kelvin, null).densityKgM3
    expect(at(288.15)).toBeCloseTo(721, 9)
    expect((at(288.1) - at(288.2)) / 0.1 / 721).toBeCloseTo(1.27531e-3, 7)
  })

  test('seepClass parts at 3/4, 1½ and 4 inches (handbook practice, from memory)', () => {
    const at = (inches: number) => seepClass(handbookScheme, inches * 0.0254, 1800).name
    expect([0.7, 0.75, 1.49, 1.5, 3.9, 4].map(at)).toEqual([
      'stain',
      'seep',
      'seep',
      'heavy seep',
      'heavy seep',
      'running leak',
    ])
    expect(seepClass(handbookScheme, 0.001, null, true).name).toBe('running leak')
    expect(seepClass(handbookScheme, 0.001, 600).full).toBe(false)
  })
})

describe('laws', () => {
  const values = fc.array(fc.double({ min: -1e3, max: 1e3, noNaN: true }), { minLength: 1, maxLength: 30 })

  test('poolAdjacentViolators never falls and keeps the sum (isotonic regression)', () => {
    fc.assert(
      fc.property(values, (y) => {
        const fitted = [...poolAdjacentViolators(y, ones(y.length))]
        const sum = (all: readonly number[]) => all.reduce((a, b) => a + b, 0)
        expect(fitted.every((value, i) => i === 0 || value >= fitted[i - 1])).toBe(true)
        expect(sum(fitted)).toBeCloseTo(sum(y), 6)
      }),
    )
  })

  test('monotoneCurve through rising points never falls between them (Fritsch–Butland)', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 1000 }), { minLength: 2, maxLength: 12 }), (steps) => {
        const y = steps.map((_, i) => steps.slice(0, i + 1).reduce((a, b) => a + b, 0))
        const curve = monotoneCurve(
          steps.map((_, i) => i),
          y,
        )
        let before = Number.NEGATIVE_INFINITY
        for (let at = 0; at <= steps.length - 1; at += 0.05) {
          const value = curveAt(curve, at)!
          expect(value).toBeGreaterThanOrEqual(before - 1e-7)
          before = value
        }
      }),
    )
  })

  test('sortRun keeps as many points as can stand: 1 of 5 is turned, 4 stay (counted)', () => {
    const run = [1, 2, 9, 3, 4].map((reading, i) => ({ usableM3: i, reading, std: 0.01 }))
    const { kept, reversals } = sortRun(run, 1, 0.1)
    expect(kept.map(({ reading }) => reading)).toEqual([1, 2, 3, 4])
    expect(reversals.map(({ reading }) => reading)).toEqual([9])
  })
})

describe('refuses', () => {
  test('curveAt gives nothing outside the points', () => {
    expect(curveAt(monotoneCurve([0, 1], [0, 1]), 1.01)).toBeNull()
  })
  test('monotoneCurve throws for x that does not rise', () => {
    expect(() => monotoneCurve([0, 0], [1, 2])).toThrow(RangeError)
  })
})
