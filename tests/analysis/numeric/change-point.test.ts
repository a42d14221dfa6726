import { describe, expect, it } from 'vitest'
import { meanChange, slopeChange } from '#analysis/numeric/change-point.ts'

/** Annual flow of the Nile at Aswan, 1871–1970, 10⁸ m³ ([nile], open data set). */
const nile = Float64Array.of(
  1120,
  1160,
  963,
  1210,
  1160,
  1160,
  813,
  1230,
  1370,
  1140,
  995,
  935,
  1110,
  994,
  1020,
  960,
  1180,
  799,
  958,
  1140,
  1100,
  1210,
  1150,
  1250,
  1260,
  1220,
  1030,
  1100,
  774,
  840,
  874,
  694,
  940,
  833,
  701,
  916,
  692,
  1020,
  1050,
  969,
  831,
  726,
  456,
  824,
  702,
  1120,
  1100,
  832,
  764,
  821,
  768,
  845,
  864,
  862,
  698,
  845,
  744,
  796,
  1040,
  759,
  781,
  865,
  845,
  944,
  984,
  897,
  822,
  1010,
  771,
  676,
  649,
  846,
  812,
  742,
  801,
  1040,
  860,
  874,
  848,
  890,
  744,
  749,
  838,
  1050,
  918,
  986,
  797,
  923,
  975,
  815,
  1020,
  906,
  901,
  1170,
  912,
  746,
  919,
  718,
  714,
  740,
)

describe('meanChange', () => {
  it('meanChange of the Nile flow is after observation 28 (1898): RSS 2835156.75 → 1597457.194, F 75.9298', () => {
    const change = meanChange(nile)!
    expect(change.index).toBe(28)
    expect(change.residualSumOfSquaresBefore).toBeCloseTo(2835156.75, 6)
    expect(change.residualSumOfSquaresAfter).toBeCloseTo(1597457.194, 3)
    expect(change.f).toBeCloseTo(75.9298, 4)
    expect(change.chance).toBeLessThan(1e-10)
  })
  it('meanChange of a clean step finds it exactly', () => {
    const step = Float64Array.of(1, 1, 1, 1, 5, 5, 5)
    expect(meanChange(step)).toMatchObject({ index: 4, f: Number.POSITIVE_INFINITY, chance: 0 })
  })
  it('meanChange of an alternating series sees nothing worth believing', () => {
    const flat = Float64Array.from({ length: 60 }, (_, i) => (i % 2 === 0 ? 1 : -1))
    expect(meanChange(flat)!.chance).toBe(1)
  })
  it('meanChange of too few values is null', () => {
    expect(meanChange(Float64Array.of(1, 2))).toBeNull()
    expect(meanChange(nile.slice(0, 9), 5)).toBeNull()
  })
})

describe('slopeChange', () => {
  const timeS = Float64Array.from({ length: 80 }, (_, i) => 3 * i)
  const noise = (i: number) => 0.02 * Math.sin(78.233 * i)
  it('slopeChange finds a bend where the line was bent (computed)', () => {
    const bent = timeS.map((t, i) => 5 - 0.01 * t - 0.03 * Math.max(0, t - 120) + noise(i))
    const change = slopeChange(timeS, bent)!
    expect(Math.abs(timeS[change.index] - 120)).toBeLessThanOrEqual(6)
    expect(change.chance).toBeLessThan(1e-10)
  })
  it('slopeChange agrees with a direct fit of line and hinge (computed)', () => {
    const bent = timeS.map((t) => 2 + 0.5 * t - 0.7 * Math.max(0, t - timeS[30]))
    expect(slopeChange(timeS, bent)!.residualSumOfSquaresAfter).toBeLessThan(1e-6)
    expect(slopeChange(timeS, bent)!.index).toBe(31)
  })
  it('slopeChange of a straight line with noise is not believed', () => {
    const straight = timeS.map((t, i) => 5 - 0.01 * t + noise(i))
    expect(slopeChange(timeS, straight)!.chance).toBeGreaterThan(0.05)
  })
  it('slopeChange of too few values is null and of uneven columns a RangeError', () => {
    expect(slopeChange(timeS.slice(0, 3), nile.slice(0, 3))).toBeNull()
    expect(() => slopeChange(timeS, nile)).toThrow(RangeError)
  })
})
