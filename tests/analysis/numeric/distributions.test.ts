import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalCdf, normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import {
  incompleteBeta,
  logGamma,
  studentTDensity,
  studentTQuantile,
  studentTUpperTail,
} from '#analysis/numeric/student-t.ts'

/** Equal to a number of significant digits. */
function expectDigits(actual: number, wanted: number, digits: number): void {
  expect(Math.abs(actual - wanted)).toBeLessThanOrEqual(Math.abs(wanted) * 10 ** -digits)
}

describe('studentTQuantile: values computed with mpmath 1.3 at 40 digits', () => {
  const table: readonly [p: number, nu: number, t: number][] = [
    [0.6, 1, 0.32491969623290623],
    [0.6, 2, 0.2886751345948128],
    [0.6, 3, 0.27667066233268983],
    [0.6, 4, 0.27072229470759734],
    [0.6, 5.5, 0.2658994571379173],
    [0.6, 10, 0.26018482949208016],
    [0.6, 30, 0.2556053649519127],
    [0.6, 100, 0.2540221824582278],
    [0.6, 599.25, 0.2534596101541892],
    [0.6, 5998, 0.25335834085033965],
    [0.6, 100000, 0.2533477771571799],
    [0.9, 1, 3.077683537175254],
    [0.9, 2, 1.885618083164127],
    [0.9, 3, 1.6377443536962104],
    [0.9, 4, 1.533206274058944],
    [0.9, 5.5, 1.4559770334640718],
    [0.9, 10, 1.3721836411103359],
    [0.9, 30, 1.3104150253913958],
    [0.9, 100, 1.290074761346516],
    [0.9, 599.25, 1.2829658970631732],
    [0.9, 5998, 1.281692725923806],
    [0.9, 100000, 1.2815600314493611],
    [0.95, 1, 6.313751514675038],
    [0.95, 2, 2.9199855803537242],
    [0.95, 3, 2.353363434801823],
    [0.95, 4, 2.1318467863266495],
    [0.95, 5.5, 1.9752797040389103],
    [0.95, 10, 1.8124611228116758],
    [0.95, 30, 1.6972608865939574],
    [0.95, 100, 1.6602343260853392],
    [0.95, 599.25, 1.647400380150339],
    [0.95, 5998, 1.6451077126390887],
    [0.95, 100000, 1.6448688647849694],
    [0.975, 1, 12.706204736174692],
    [0.975, 2, 4.302652729749462],
    [0.975, 3, 3.182446305283708],
    [0.975, 4, 2.7764451051977934],
    [0.975, 5.5, 2.5018586175892397],
    [0.975, 10, 2.2281388519862744],
    [0.975, 30, 2.0422724563012378],
    [0.975, 100, 1.9839715185235518],
    [0.975, 599.25, 1.9639305901420232],
    [0.975, 5998, 1.9603595733821082],
    [0.975, 100000, 1.9599877075346093],
    [0.99, 1, 31.82051595377393],
    [0.99, 2, 6.964556734283271],
    [0.99, 3, 4.540702858568132],
    [0.99, 4, 3.746947387979196],
    [0.99, 5.5, 3.240725680693837],
    [0.99, 10, 2.7637694581126957],
    [0.99, 30, 2.457261542400591],
    [0.99, 100, 2.3642173662384818],
    [0.99, 599.25, 2.332586735652985],
    [0.99, 5998, 2.326969752673751],
    [0.99, 100000, 2.326385165355268],
    [0.995, 1, 63.656741162871526],
    [0.995, 2, 9.92484320091829],
    [0.995, 3, 5.840909309733355],
    [0.995, 4, 4.604094871349992],
    [0.995, 5.5, 3.849911466001036],
    [0.995, 10, 3.169272672616951],
    [0.995, 30, 2.749995653567225],
    [0.995, 100, 2.6258905214380177],
    [0.995, 599.25, 2.584058464175678],
    [0.995, 5998, 2.5766492470113165],
    [0.995, 100000, 2.575878469908375],
    [0.9995, 1, 636.6192487687897],
    [0.9995, 2, 31.59905457644536],
    [0.9995, 3, 12.923978636687965],
    [0.9995, 4, 8.610301581379522],
    [0.9995, 5.5, 6.350817500083779],
    [0.9995, 10, 4.586893858702708],
    [0.9995, 30, 3.6459586350420627],
    [0.9995, 100, 3.3904913111642636],
    [0.9995, 599.25, 3.306836266143019],
    [0.9995, 5998, 3.292149620637856],
    [0.9995, 100000, 3.2906240314119137],
  ]
  for (const [p, nu, t] of table) {
    it(`studentTQuantile(${p}, ${nu}) agrees to 12 digits`, () =>
      expectDigits(studentTQuantile(p, nu), t, 12))
  }
})

describe('tails: values computed with mpmath 1.3 at 40 digits', () => {
  const tails: readonly [t: number, nu: number, tail: number][] = [
    [0.1, 3, 0.4633261744004029],
    [1, 1, 0.25],
    [2.5, 7, 0.020496109292876447],
    [6, 4.2, 0.0016582928302240902],
    [12, 50, 1.2311903126662723e-16],
    [3, 1000, 0.0013833545221190963],
    [5, 100000, 2.8713508393208365e-7],
    [0.5, 20, 0.3112659211405118],
  ]
  for (const [t, nu, tail] of tails) {
    it(`studentTUpperTail(${t}, ${nu}) agrees to 12 digits`, () =>
      expectDigits(studentTUpperTail(t, nu), tail, 12))
  }
  const normal: readonly [z: number, probability: number][] = [
    [-8, 6.220960574271784e-16],
    [-5, 2.866515718791939e-7],
    [-1.96, 0.024997895148220435],
    [-0.3, 0.3820885778110474],
    [0.7, 0.758036347776927],
    [1.6448536, 0.9499999972203426],
    [3, 0.9986501019683699],
  ]
  for (const [z, probability] of normal) {
    it(`normalCdf(${z}) agrees to 13 digits`, () => expectDigits(normalCdf(z), probability, 13))
  }
  const quantiles: readonly [p: number, z: number][] = [
    [0.975, 1.9599639845400538],
    [0.95, 1.6448536269514722],
    [0.6, 0.2533471031357997],
    [1e-10, -6.361340902404057],
    [0.001, -3.0902323061678136],
    [0.999999, 4.753424308817088],
  ]
  for (const [p, z] of quantiles) {
    it(`normalQuantile(${p}) agrees to 13 digits`, () => expectDigits(normalQuantile(p), z, 13))
  }
  const betas: readonly [x: number, a: number, b: number, value: number][] = [
    [0.3, 2, 5, 0.579825],
    [0.9, 0.5, 0.5, 0.7951672353008665],
    [0.01, 30, 0.5, 1.0307815466209132e-61],
    [0.999, 500, 0.5, 0.31731044730971714],
    [0.5, 40, 60, 0.9780623532064924],
    [0.2, 0.1, 7, 0.9880671952591108],
  ]
  for (const [x, a, b, value] of betas) {
    it(`incompleteBeta(${x}, ${a}, ${b}) agrees to 12 digits`, () =>
      expectDigits(incompleteBeta(x, a, b), value, 12))
  }
  const gammas: readonly [x: number, value: number][] = [
    [0.5, 0.5723649429247001],
    [1e-5, 11.512919692895826],
    [3.7, 1.428072326665388],
    [14.9, 24.924132002217277],
    [15.1, 25.458999750992664],
    [1000, 5905.220423209181],
  ]
  for (const [x, value] of gammas) {
    it(`logGamma(${x}) agrees to 13 digits`, () => expectDigits(logGamma(x), value, 13))
  }
})

describe('studentTQuantile: textbook values', () => {
  it('studentTQuantile(0.975, 10) is 2.228 and (0.95, 5) is 2.015 (GUM table G.2 and common tables)', () => {
    expect(studentTQuantile(0.975, 10).toFixed(3)).toBe('2.228')
    expect(studentTQuantile(0.95, 5).toFixed(3)).toBe('2.015')
  })
  it('studentTQuantile(0.75, 1) is 1: a quarter of the Cauchy distribution lies above it (exact)', () => {
    expectDigits(studentTQuantile(0.75, 1), 1, 14)
  })
  it('studentTQuantile(0.75, 2) is √(1/6)·2 (exact: t = (2p−1)√(2/(4p(1−p)))) ', () => {
    expectDigits(studentTQuantile(0.75, 2), 0.5 * Math.sqrt(2 / 0.75), 14)
  })
})

describe('distributions: laws', () => {
  it('studentTQuantile undoes studentTUpperTail', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.5, max: 2000, noNaN: true }),
        fc.double({ min: 1e-9, max: 0.5, noNaN: true }),
        (nu, tail) => {
          const t = -studentTQuantile(tail, nu)
          return Math.abs(studentTUpperTail(t, nu) / tail - 1) < 1e-11
        },
      ),
    )
  })
  it('studentTUpperTail is the integral of studentTDensity', () => {
    for (const nu of [1, 3.5, 40, 4000]) {
      const width = 1e-3
      const slope = (studentTUpperTail(1.3 - width, nu) - studentTUpperTail(1.3 + width, nu)) / (2 * width)
      expect(slope).toBeCloseTo(studentTDensity(1.3, nu), 6)
    }
  })
  it('studentTUpperTail of both tails adds to 1 and infinite freedom is the normal distribution', () => {
    expect(studentTUpperTail(-1.7, 6) + studentTUpperTail(1.7, 6)).toBeCloseTo(1, 15)
    expect(studentTUpperTail(-1.7, Number.POSITIVE_INFINITY)).toBeCloseTo(normalCdf(1.7), 15)
    expect(studentTQuantile(0.975, Number.POSITIVE_INFINITY)).toBeCloseTo(normalQuantile(0.975), 14)
  })
  it('normalQuantile undoes normalCdf', () => {
    fc.assert(
      fc.property(fc.double({ min: -8, max: 8, noNaN: true }), (z) => {
        const back = normalQuantile(normalCdf(z))
        return Math.abs(back - z) < 1e-12 + (z > 0 ? 1e-15 / Math.exp(-0.5 * z * z) : 0)
      }),
    )
  })
  it('incompleteBeta(x, a, b) and incompleteBeta(1−x, b, a) add to 1', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 0.999, noNaN: true }),
        fc.double({ min: 0.1, max: 500, noNaN: true }),
        fc.double({ min: 0.1, max: 500, noNaN: true }),
        (x, a, b) => Math.abs(incompleteBeta(x, a, b) + incompleteBeta(1 - x, b, a) - 1) < 1e-12,
      ),
    )
  })
})

describe('distributions: refuse', () => {
  it('a quantile of a probability outside 0 to 1 is a RangeError', () => {
    expect(() => studentTQuantile(1.1, 3)).toThrow(RangeError)
    expect(() => normalQuantile(Number.NaN)).toThrow(RangeError)
  })
  it('no degrees of freedom is a RangeError', () => {
    expect(() => studentTQuantile(0.9, 0)).toThrow(RangeError)
    expect(() => studentTUpperTail(1, Number.NaN)).toThrow(RangeError)
    expect(() => incompleteBeta(0.5, 0, 1)).toThrow(RangeError)
    expect(() => incompleteBeta(1.5, 1, 1)).toThrow(RangeError)
    expect(() => logGamma(0)).toThrow(RangeError)
  })
  it('the ends of the scale are infinite', () => {
    expect(studentTQuantile(0, 3)).toBe(Number.NEGATIVE_INFINITY)
    expect(studentTQuantile(1, 3)).toBe(Number.POSITIVE_INFINITY)
    expect(normalQuantile(0)).toBe(Number.NEGATIVE_INFINITY)
    expect(studentTUpperTail(Number.POSITIVE_INFINITY, 3)).toBe(0)
  })
})
