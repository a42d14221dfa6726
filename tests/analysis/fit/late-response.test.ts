import { describe, expect, it } from 'vitest'
import type { ShapeColumns } from '#analysis/fit/gas-shape.ts'
import { thermometerDensity, walkBehind, whiteLeft } from '#analysis/fit/late-response.ts'
import { firstOrderLag } from '#analysis/numeric/first-order-lag.ts'
import { normals } from './plain-bench.ts'

const n = 4000
const stepS = new Float64Array(n).fill(5)

function shaped(lagS: number, variance: number, thermalVariance: number, logSlope = 0): ShapeColumns {
  return {
    shape: { lagS },
    variance: new Float64Array(n).fill(variance),
    extraWalk: new Float64Array(n),
    thermal: { variance: thermalVariance, logSlope },
  } as Partial<ShapeColumns> as ShapeColumns
}

describe('walkBehind', () => {
  it('is the walk whose steps, seen through a lag without noise, have the variance of the one that is seen', () => {
    // A walk of unit steps, made late.
    const normal = normals(7)
    let level = 0
    const walk = Float64Array.from({ length: n }, () => {
      level += normal()
      return level
    })
    const lagS = 40
    const timeS = Float64Array.from({ length: n }, (_, i) => 5 * i)
    const late = firstOrderLag(timeS, walk, lagS)
    const steps = late.slice(1).map((value, i) => value - late[i])
    const seenPerS = steps.reduce((sum, step) => sum + step * step, 0) / steps.length / 5
    const behind = walkBehind(shaped(lagS, 1e-9, 0), { whiteScale: 1, walkPerS: seenPerS, weight: 1 }, stepS)
    expect(behind / (1 / 5)).toBeGreaterThan(0.8)
    expect(behind / (1 / 5)).toBeLessThan(1.25)
  })

  it('is the one that is seen where white noise hides what is quicker than the lag, and on a wall', () => {
    const noise = { whiteScale: 1, walkPerS: 1e-4, weight: 1 }
    expect(walkBehind(shaped(10, 1000, 0), noise, stepS) / noise.walkPerS).toBeCloseTo(1, 2)
    expect(walkBehind({ ...shaped(40, 1, 0), thermal: null }, noise, stepS)).toBe(noise.walkPerS)
  })
})

describe('thermometerDensity', () => {
  const still = { whiteScale: 1, walkPerS: 0, weight: 1 }

  it("is the slope of each reading where all scatter is the thermometer's", () => {
    expect(thermometerDensity(shaped(40, 2, 2, Math.log(0.5)), still, stepS)).toBeCloseTo(
      n * Math.log(0.5),
      6,
    )
  })

  it('takes off the squares that were smoothed away where none of it is', () => {
    const missing = 1 - whiteLeft(5 / 40)
    expect(thermometerDensity(shaped(40, 2, 0), still, stepS)).toBeCloseTo((-n * missing) / 2, 6)
  })

  it('is nothing for a thermometer on the wall', () => {
    expect(thermometerDensity({ ...shaped(40, 2, 2), thermal: null }, still, stepS)).toBe(0)
  })
})

describe('whiteLeft', () => {
  it('is 1 without a lag and half the step over a long one (computed: the limit of the formula)', () => {
    expect(whiteLeft(1e4)).toBeCloseTo(1, 3)
    expect(whiteLeft(1e-3) / 1e-3).toBeCloseTo(0.5, 2)
  })

  it.each([5, 20, 40])(
    'is the variance that firstOrderLag leaves of white noise, lag %d s, step 5 s',
    (lagS) => {
      const white = Float64Array.from({ length: 20_000 }, normals(4711))
      const late = firstOrderLag(
        white.map((_, i) => 5 * i),
        white,
        lagS,
      )
      const left = late.reduce((sum, value) => sum + value ** 2, 0) / late.length
      expect(left / whiteLeft(5 / lagS)).toBeGreaterThan(0.93)
      expect(left / whiteLeft(5 / lagS)).toBeLessThan(1.07)
    },
  )
})
