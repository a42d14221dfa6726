import { describe, expect, it } from 'vitest'
import { bent, type HeldLine, straight, yieldAt } from '#analysis/fit/full-line.ts'
import type { GasRows } from '#analysis/fit/gas-rows.ts'
import { gasColumns } from '#analysis/fit/hold-columns.ts'
import { constants, coordinate, coordinates } from '#analysis/fit/hold-constants.ts'
import { holdFilter } from '#analysis/fit/hold-filter.ts'
import type { HoldBeliefs } from '#analysis/fit/hold-model.ts'

const n = 60
const stepS = 10
const atmospherePa = 100_000
const gaugePa = 60_000
const testPa = atmospherePa + gaugePa
const temperatureK = 293
const tauS = 40
const noise = 1e-6
const middleS = Float64Array.from({ length: n }, (_, i) => (i + 0.5) * stepS)

const beliefs: HoldBeliefs = {
  sort: 0,
  line: null,
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
  u[coordinate.gasTau] = Math.log(gasTauS / constants.gasTauS[0]) / constants.gasTauSpread[0]
  u[coordinate.slowing] = -6
  u[coordinate.pumpHeat] =
    Math.log(pumpHeat / (constants.pumpHeatLeft * beliefs.fullHeat)) / constants.pumpHeatSpread
  u[coordinate.creep] = -4
  u[coordinate.rough] = -2
  return u
}

describe('holdFilter', () => {
  const heat = 0.02
  const u = conducting(heat, tauS)
  const rows = rowsOf((at) => leakLog(at) + heat * Math.exp(-at / tauS))

  it('tells a leak of 0.4 % from pump-up heat that dies away with its own time constant (closed form)', () => {
    const { mean, variance } = holdFilter(rows, beliefs).pass(u, null)
    expect(Math.abs(mean / drop - 1)).toBeLessThan(0.02)
    expect(Math.sqrt(variance)).toBeLessThan(0.1 * drop)
  })

  it('finds the right time constant likelier than half and twice of it', () => {
    const filter = holdFilter(rows, beliefs)
    const logOf = (tau: number): number => filter.pass(conducting(heat, tau), null).logLikelihood
    expect(logOf(tauS)).toBeGreaterThan(logOf(tauS / 2) + 5)
    expect(logOf(tauS)).toBeGreaterThan(logOf(2 * tauS) + 5)
  })

  it('gives the same answer whether the innovations are asked for or not, and one of each kind a row', () => {
    const filter = holdFilter(rows, beliefs)
    const innovations = new Float64Array(6 * n)
    expect(filter.pass(u, innovations)).toEqual(filter.pass(u, null))
    for (let i = 0; i < n; i++) {
      expect(innovations[6 * i + 1]).toBeGreaterThan(0)
      expect(innovations[6 * i + 3]).toBeGreaterThan(0)
      expect(innovations[6 * i + 5]).toBe(0)
    }
  })

  it('smooths the hold into leak and other causes that add up to what was read; the heat stands among the causes', () => {
    const { response, causes, leakLine } = holdFilter(rows, beliefs).smooth(u)
    for (let i = 5; i < n; i++) {
      expect(Math.abs(response[i] - causes[i] - leakLine[i])).toBeLessThan(1e-5)
      expect(Math.abs(causes[i] - causes[n - 1] - heat * Math.exp(-middleS[i] / tauS))).toBeLessThan(3e-4)
    }
  })
})

describe('holdFilter of a line full of fuel', () => {
  /** 1 % of the pressure yields by air, the rest by fuel: 1.2e-9 and 1.2e-8 /Pa. */
  const line: HeldLine = {
    leastYieldPerPa: 1.2e-9,
    stretchStated: true,
    expansionPerK: 1.2e-3,
    heatPerPa: 3e-10,
    volumeM3: 1e-3,
    testPa,
    testGaugePa: gaugePa,
    strokes: [],
    strokeS: [],
    unseenLog: 0,
    unseenWeatherStd: 0,
  }
  const yieldPerPa = 1.2e-8
  const wet: HoldBeliefs = {
    ...beliefs,
    sort: 2,
    line: {
      ...line,
      strokes: [
        {
          timeS: -20,
          volumeM3: yieldPerPa * line.volumeM3 * 1000,
          stdM3: 1e-12,
          beforePa: gaugePa - 500,
          afterPa: gaugePa + 500,
          stdPa: 0.1,
        },
      ],
    },
    fullHeat: 1e-5,
    creepScale: 1e-3,
  }
  const u = new Float64Array(coordinates)
  u[coordinate.rough] = -0.5
  u[coordinate.creep] = -4
  /** Gauge and thermometer of a room that warms by 0.6 K an hour, the fuel 45 s behind, and a leak of 1.2 kPa in the stated time. */
  const warm = (atS: number): number => (0.6 * atS) / 3600
  const lostPa = 1200
  const wetRows = (stepPa: number): GasRows => {
    const rows = rowsOf(() => 0)
    const read = middleS.map((atS) => {
      const fuelK = warm(atS - constants.gasTauS[2])
      const straightPa = (line.expansionPerK * fuelK) / yieldPerPa - (lostPa * atS) / 540
      return bent(straightPa, line, 0.9) + (atS > 300 ? stepPa : 0)
    })
    return {
      ...rows,
      gaugePa: read,
      absolutePa: read.map((g) => g + atmospherePa),
      thermometer: middleS.map((atS) => warm(atS - constants.thermometerTauS) / temperatureK),
      thermometerVariance: new Float64Array(n).fill((0.001 / temperatureK) ** 2),
    }
  }
  /** The thermometer shows the whole swing. */
  u[coordinate.gain] =
    Math.log((constants.gainMost[2] - 1) / constants.gainShort[2]) / constants.gainSpread[2]

  it('tells a leak of 1.2 kPa from warming that raises the pressure ten times as much (closed form)', () => {
    const cold = { ...wet, line: { ...(wet.line as HeldLine), heatPerPa: 0 } }
    const { mean, variance } = holdFilter(wetRows(0), cold).pass(u, null)
    expect(Math.abs((mean * testPa) / lostPa - 1)).toBeLessThan(0.1)
    expect(Math.sqrt(variance) * testPa).toBeLessThan(0.25 * lostPa)
  })

  it('begins anew at a stroke in the hold: 500 Pa pushed in at 300 s change the leak by less than its error', () => {
    const stroked = { ...wet, line: { ...(wet.line as HeldLine), strokeS: [300] } }
    const plain = holdFilter(wetRows(0), wet).pass(u, null)
    const { mean } = holdFilter(wetRows(500), stroked).pass(u, null)
    expect(Math.abs(mean - plain.mean)).toBeLessThan(Math.sqrt(plain.variance))
    const taken = holdFilter(wetRows(500), wet).pass(u, null)
    expect(Math.abs(taken.mean - plain.mean)).toBeGreaterThan(Math.sqrt(plain.variance))
  })

  it('yieldAt() of a stroke of 1 kPa is V·y of its volume, the heat of the push taken out (closed form)', () => {
    const cold = { ...(wet.line as HeldLine), heatPerPa: 0 }
    expect(yieldAt(u, cold, constants).yieldPerPa / yieldPerPa).toBeCloseTo(1, 3)
    const share = constants.strokeHeatLeft[0] * (line.heatPerPa / yieldPerPa)
    expect(yieldAt(u, wet.line as HeldLine, constants).yieldPerPa / yieldPerPa).toBeCloseTo(1 + share, 2)
  })

  it('bent() undoes straight() for any share of air (law)', () => {
    for (const share of [0, 0.4, 1])
      for (const pa of [20_000, gaugePa, 90_000])
        expect(bent(straight(pa, line, share), line, share)).toBeCloseTo(pa, 6)
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
    gasColumns(noisy(absolute), new Float64Array(n), stretchPerPa, 1, 0).white[n - 1] / constants.whiteSpare

  it('on a gauge a rigid volume has all the noise of the barometer, one of stiffness ½ a quarter of it', () => {
    expect(whiteOf(false, 0)).toBeCloseTo(5, 12)
    expect(whiteOf(false, half)).toBeCloseTo(5 - 3 * 0.75, 12)
  })

  it('an absolute transducer has none of it in a rigid volume, a quarter where the stiffness is ½', () => {
    expect(whiteOf(true, 0)).toBeCloseTo(5, 12)
    expect(whiteOf(true, half)).toBeCloseTo(5 + 3 * 0.25, 12)
  })
})
