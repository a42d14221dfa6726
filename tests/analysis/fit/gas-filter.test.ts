import { describe, expect, it } from 'vitest'
import { gasColumns } from '#analysis/fit/gas-columns.ts'
import { gasFilter } from '#analysis/fit/gas-filter.ts'
import { constants, coordinate, coordinates, type GasBeliefs } from '#analysis/fit/gas-model.ts'
import type { GasRows } from '#analysis/fit/gas-rows.ts'

const n = 60
const stepS = 10
const atmospherePa = 100_000
const gaugePa = 60_000
const testPa = atmospherePa + gaugePa
const temperatureK = 293
const tauS = 40
const noise = 1e-6
const middleS = Float64Array.from({ length: n }, (_, i) => (i + 0.5) * stepS)

const beliefs: GasBeliefs = {
  tank: false,
  stretchPerPa: 0,
  gasThermometer: 0,
  flowTells: false,
  creeps: true,
  fullHeat: (2 / 7) * (gaugePa / testPa),
  creepScale: 1.9e-3,
  dropStd: gaugePa / testPa,
  scaleStd: 0,
  unseenStd: 0,
  unseenWeatherStd: 0,
}

/** A still room, a section whose ln p follows `log`, a thermometer that stands still. */
function rowsOf(log: (atS: number) => number): GasRows {
  const absolutePa = middleS.map((at) => testPa * Math.exp(log(at)))
  return {
    fromS: middleS.map((at) => at - stepS / 2),
    toS: middleS.map((at) => at + stepS / 2),
    absolutePa,
    gaugePa: absolutePa.map((p) => p - atmospherePa),
    variance: new Float64Array(n).fill(noise ** 2),
    weatherVariance: new Float64Array(n),
    absolute: false,
    thermometer: new Float64Array(n),
    thermometerVariance: new Float64Array(n).fill((0.01 / temperatureK) ** 2),
    vessel: null,
    temperatureK,
    holdFromS: 60,
    statedHoldS: 540,
    testPa,
    testGaugePa: gaugePa,
  }
}

/** Drop of ln p in the stated hold time, at the stated pressure, of a leak that flows at an even rate: driven less as it falls. */
const drop = 0.004
const leakLog = (atS: number): number => (-drop * atS) / 540
/** Heat that goes by conduction alone: the exponent of the flow is next to none. */
const conducting = (pumpHeat: number, gasTauS: number): Float64Array => {
  const u = new Float64Array(coordinates)
  u[coordinate.gasTau] = Math.log(gasTauS / constants.gasTauS[0]) / constants.gasTauSpread
  u[coordinate.slowing] = -6
  u[coordinate.pumpHeat] =
    Math.log(pumpHeat / (constants.pumpHeatLeft * beliefs.fullHeat)) / constants.pumpHeatSpread
  u[coordinate.creep] = -4
  u[coordinate.rough] = -2
  return u
}

describe('gasFilter', () => {
  const heat = 0.02
  const u = conducting(heat, tauS)
  const rows = rowsOf((at) => leakLog(at) + heat * Math.exp(-at / tauS))

  it('tells a leak of 0.4 % from pump-up heat that dies away with its own time constant (closed form)', () => {
    const { mean, variance } = gasFilter(rows, beliefs).pass(u, null)
    expect(Math.abs(mean / drop - 1)).toBeLessThan(0.02)
    expect(Math.sqrt(variance)).toBeLessThan(0.1 * drop)
  })

  it('finds the right time constant likelier than half and twice of it', () => {
    const filter = gasFilter(rows, beliefs)
    const logOf = (tau: number): number => filter.pass(conducting(heat, tau), null).logLikelihood
    expect(logOf(tauS)).toBeGreaterThan(logOf(tauS / 2) + 5)
    expect(logOf(tauS)).toBeGreaterThan(logOf(2 * tauS) + 5)
  })

  it('gives the same answer whether the innovations are asked for or not, and one of each kind a row', () => {
    const filter = gasFilter(rows, beliefs)
    const innovations = new Float64Array(6 * n)
    expect(filter.pass(u, innovations)).toEqual(filter.pass(u, null))
    for (let i = 0; i < n; i++) {
      expect(innovations[6 * i + 1]).toBeGreaterThan(0)
      expect(innovations[6 * i + 3]).toBeGreaterThan(0)
      expect(innovations[6 * i + 5]).toBe(0)
    }
  })

  it('smooths the hold into leak and other causes that add up to what was read; the heat stands among the causes', () => {
    const { response, causes, leakLine } = gasFilter(rows, beliefs).smooth(u)
    for (let i = 5; i < n; i++) {
      expect(Math.abs(response[i] - causes[i] - leakLine[i])).toBeLessThan(1e-5)
      expect(Math.abs(causes[i] - causes[n - 1] - heat * Math.exp(-middleS[i] / tauS))).toBeLessThan(3e-4)
    }
  })
})

describe('gasColumns: white variance of the response', () => {
  /** κ that makes the stiffness ½ at this pressure: 1/(1 + κ·160/(1 + κ·60)) with κ·160 = 1 + κ·60. */
  const half = 1 / 100_000
  const noisy = (absolute: boolean): GasRows => ({
    ...rowsOf(() => 0),
    variance: new Float64Array(n).fill(5),
    weatherVariance: new Float64Array(n).fill(3),
    absolute,
  })
  const whiteOf = (absolute: boolean, stretchPerPa: number): number =>
    gasColumns(noisy(absolute), new Float64Array(n), stretchPerPa, 1).white[n - 1] / constants.whiteSpare

  it('on a gauge a rigid volume has all the noise of the barometer, one of stiffness ½ a quarter of it', () => {
    expect(whiteOf(false, 0)).toBeCloseTo(5, 12)
    expect(whiteOf(false, half)).toBeCloseTo(5 - 3 * 0.75, 12)
  })

  it('an absolute transducer has none of it in a rigid volume, a quarter where the stiffness is ½', () => {
    expect(whiteOf(true, 0)).toBeCloseTo(5, 12)
    expect(whiteOf(true, half)).toBeCloseTo(5 + 3 * 0.25, 12)
  })
})
