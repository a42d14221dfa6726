import { describe, expect, it } from 'vitest'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { significantDigits } from './significant-digits.ts'
import { norris } from './strd/linear-sets.ts'

describe('straightLine', () => {
  const y = Float64Array.from(norris.rows, (row) => row[0])
  const x = Float64Array.from(norris.rows, (row) => row[1])

  it('straightLine on Norris gives the certified line and its uncertainty to 10 digits (NIST StRD)', () => {
    const line = straightLine(x, y)
    expect(significantDigits(line.slope, norris.coefficients[1])).toBeGreaterThan(10)
    expect(significantDigits(line.meanY - line.slope * line.meanX, norris.coefficients[0])).toBeGreaterThan(
      10,
    )
    expect(significantDigits(line.stdSlope, norris.std[1])).toBeGreaterThan(10)
    expect(significantDigits(line.stdResidual, norris.residualStd)).toBeGreaterThan(10)
  })

  it('straightLine far from zero has the same slope: epoch seconds lose no digit that they hold (law)', () => {
    const shifted = straightLine(
      x.map((value) => value + 2 ** 31),
      y,
    )
    expect(significantDigits(shifted.slope, straightLine(x, y).slope)).toBeGreaterThan(8)
  })

  it('straightLine through points of a line is that line, whatever their number (law)', () => {
    for (const n of [3, 4, 5, 6, 7, 1001]) {
      const at = Float64Array.from({ length: n }, (_, k) => k / 8)
      const line = straightLine(
        at,
        at.map((t) => 68_947 - 0.5 * t),
      )
      expect(line.slope).toBeCloseTo(-0.5, 12)
      expect(line.meanX).toBe((n - 1) / 16)
      expect(line.stdSlope).toBeLessThan(1e-9)
    }
  })

  it('straightLine calibrates the thermometer of GUM H.3: y1, y2, r and the correction at 30 °C (JCGM 100:2008)', () => {
    const reading = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511]
    const correction = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16]
    const line = straightLine(
      Float64Array.from(reading, (t) => t - 20),
      Float64Array.from(correction),
    )
    const at = (t: number): number => line.meanY + line.slope * (t - line.meanX)
    const std = (t: number): number =>
      Math.hypot(line.stdResidual / Math.sqrt(11), line.stdSlope * (t - line.meanX))
    expect(at(0)).toBeCloseTo(-0.171203790131, 12)
    expect(std(0)).toBeCloseTo(0.002877597835, 12)
    expect(line.slope).toBeCloseTo(0.00218269774, 11)
    expect(line.stdSlope).toBeCloseTo(0.000667938773, 12)
    expect((-line.stdSlope * line.meanX) / std(0)).toBeCloseTo(-0.93043, 6)
    expect(at(10)).toBeCloseTo(-0.149376813, 9)
    expect(std(10)).toBeCloseTo(0.004138595753, 12)
  })

  it('straightLine refuses two points, and columns of different length', () => {
    expect(() => straightLine(new Float64Array(2), new Float64Array(2))).toThrow(RangeError)
    expect(() => straightLine(new Float64Array(3), new Float64Array(4))).toThrow(RangeError)
  })
})
