import { type HoldSpec, isTank, type Section } from '#analysis/model/system.ts'
import { normalCdf, normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/pressure-signal.ts'
import { type FullLine, type HeldLine, type Stroke, yieldAt } from './full-line.ts'
import type { GasHold, pumpUpWarmth } from './gas-rows.ts'
import { constants, coordinate, type HoldConstants } from './hold-constants.ts'

/** Prior of a hold; amplitudes are of ln p, for a full line of p over the test pressure. */
export interface HoldBeliefs {
  /** Index into constants that differ: a line of gas, a tank, a line full of fuel. */
  readonly sort: 0 | 1 | 2
  /** A line full of fuel; null for a gas. */
  readonly line: HeldLine | null
  /** κ of V = V₀(1 + κ·g), [1/Pa]; null where the file does not state it. */
  readonly stretchPerPa: number | null
  /** Prior probability that the thermometer measures the gas and not the wall, 0 to 1. */
  readonly gasThermometer: number
  /** Whether the pressure falls far enough to distinguish flow laws. */
  readonly flowTells: boolean
  /** Whether creep is possible: not where a neighbouring section visibly gains the lost gas. */
  readonly creeps: boolean
  /** Amplitude of an adiabatic pump-up; negative for a suction hold. */
  readonly fullHeat: number
  /** Size of a usual creep, negative for a suction hold. */
  readonly creepScale: number
  /** Standard deviation of the drop in the stated hold time: wide. */
  readonly dropStd: number
  /** Relative standard deviation of a drop scaled to the stated pressure. */
  readonly scaleStd: number
  /** Unobservable uncertainty added to the leak (unknown weather, converter steps), as a drop. */
  readonly unseenStd: number
  /** The weather's part of it. */
  readonly unseenWeatherStd: number
}

/** The free coordinates of a hold. */
export function openPlaces(
  { line, creeps, gasThermometer, stretchPerPa, flowTells }: HoldBeliefs,
  hasThermometer: boolean,
): number[] {
  const places: readonly [place: number, open: boolean][] = [
    [coordinate.gasTau, true],
    [coordinate.slowing, line === null],
    [coordinate.thermometerTau, hasThermometer],
    [coordinate.gasShare, hasThermometer && gasThermometer > leastGasThermometer],
    [coordinate.pumpHeat, true],
    [coordinate.gasError, true],
    [coordinate.walk, true],
    [coordinate.rough, hasThermometer || line !== null],
    [coordinate.creep, creeps],
    [coordinate.gain, hasThermometer],
    [coordinate.stretch, stretchPerPa === null],
    [coordinate.flow, flowTells],
    [coordinate.creepTau, creeps],
    [coordinate.yield, line !== null],
    [coordinate.air, line !== null && !line.stretchStated],
  ]
  return places.flatMap(([place, open]) => (open ? [place] : []))
}

/** Below this probability the thermometer is assumed to measure the wall. */
const leastGasThermometer = 0.015

/** The constants at a point of the prior. */
export function shapeAt(u: Float64Array, beliefs: HoldBeliefs, spanS: number, c: HoldConstants = constants) {
  const { sort, line } = beliefs
  const { yieldPerPa, airShare } = line === null ? rigid : yieldAt(u, line, c)
  const creeping = line === null ? 1 : Math.max(0, 1 - line.leastYieldPerPa / yieldPerPa)
  const [most, spread, middle] = c.creepSteps
  return {
    gasTauS: c.gasTauS[sort] * Math.exp(c.gasTauSpread[sort] * u[coordinate.gasTau]),
    slowing:
      line !== null
        ? 0
        : c.mostSlowing * normalCdf(c.slowingSpread * u[coordinate.slowing] + c.slowingMiddle[sort]),
    thermometerTauS: c.thermometerTauS * Math.exp(c.thermometerTauSpread * u[coordinate.thermometerTau]),
    gasShare:
      beliefs.gasThermometer > leastGasThermometer
        ? normalCdf(1.6 * u[coordinate.gasShare] + 2 * normalQuantile(bounded(beliefs.gasThermometer)))
        : 0,
    pumpHeat: c.pumpHeatLeft * beliefs.fullHeat * Math.exp(c.pumpHeatSpread * u[coordinate.pumpHeat]),
    gasError: c.gasError * Math.exp(c.gasErrorSpread * u[coordinate.gasError]),
    walk: Math.hypot(c.walkLeast, c.walkSize * Math.exp(c.walkSpread * u[coordinate.walk])),
    rough: Math.exp(c.roughSpread[sort] * u[coordinate.rough]),
    creep: beliefs.creeps
      ? most * creeping * Math.abs(beliefs.creepScale) * normalCdf(spread * u[coordinate.creep] + middle)
      : 0,
    creepTauS: c.creepTauShare * spanS * Math.exp(c.creepTauSpread * u[coordinate.creepTau]),
    gain: c.gainMost[sort] / (1 + c.gainShort[sort] * Math.exp(c.gainSpread[sort] * u[coordinate.gain])),
    stretchPerPa: beliefs.stretchPerPa ?? stretchAt(u[coordinate.stretch], sort, c),
    flowExponent: beliefs.flowTells
      ? Math.min(
          1.1,
          Math.max(
            0,
            c.flowExponent + c.flowExponentStd[u[coordinate.flow] < 0 ? 0 : 1] * u[coordinate.flow],
          ),
        )
      : 1,
    /** For a full line. */
    yieldPerPa,
    airShare,
  }
}

/** One set of the model's constants. */
export type HoldShape = Readonly<ReturnType<typeof shapeAt>>

/** Unstated κ at a point of the prior. */
export function stretchAt(u: number, sort: HoldBeliefs['sort'], c: HoldConstants = constants): number {
  const log = c.stretchSpread * u + c.stretchTail[sort] * Math.max(0, u) ** 2
  return Math.min(c.mostStretchPerPa, c.stretchPerPa[sort] * Math.exp(log))
}

/** The yield of a section without liquid. */
const rigid = { yieldPerPa: 0, airShare: 0 }

function bounded(belief: number): number {
  return Math.min(0.98, Math.max(0.02, belief))
}

/** The value of `gasShare` at which the thermometer measures mainly the gas, as a start of the search. */
export function gasThermometerStart(beliefs: HoldBeliefs): number {
  return (1 - 2 * normalQuantile(bounded(beliefs.gasThermometer))) / 1.6
}

/**
 * d ln p / d ln n of a volume V = V₀(1 + κ·g): 1 / (1 + κ·p/(1 + κ·g)).
 *
 * @param stretchPerPa κ, [1/Pa], ≥ 0
 * @param absolutePa p, [Pa]
 * @param gaugePa g, [Pa]
 * *Source* docs/method.md section 2, elastic volume. *Check* κ = 0 gives 1.
 */
export function stiffnessOf(stretchPerPa: number, absolutePa: number, gaugePa: number): number {
  return 1 / (1 + (stretchPerPa * absolutePa) / (1 + stretchPerPa * gaugePa))
}

/** Unmeasured atmospheric change over the hold, scaled by its effect on the section's gauge, [Pa]. */
export function unseenWeatherPa(hold: GasHold, section: Section, holdS: number): number {
  const unseen = hold.unseenWeatherPa ?? unknownWeatherPaPerS * holdS
  // Weather affects an absolute gauge only through an elastic volume.
  const feels = hold.absolute ? (isTank(section) && section.stretchPerPa !== 0 ? 0.5 : 0.05) : 1
  return feels * unseen
}

/** Prior of a gas hold. */
export function gasBeliefs(
  hold: GasHold,
  section: Section,
  { pressurePa, holdS }: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  creeps = true,
): HoldBeliefs {
  const gauge = Math.abs(pressurePa)
  const { gaugePa, toS, holdFromS } = hold.rows
  const span = toS[toS.length - 1]
  // Skip the start: the fall from remaining pump-up heat carries no information about the flow law.
  const late = toS.findIndex((endS) => endS > holdFromS + 0.25 * (span - holdFromS))
  const sorted = gaugePa.subarray(late).map(Math.abs).sort()
  const high = sorted[Math.floor(0.95 * sorted.length)]
  const low = sorted[Math.floor(0.05 * sorted.length)]
  const unseenWeatherStd = unseenWeatherPa(hold, section, holdS) / hold.testPa
  return {
    sort: isTank(section) ? 1 : 0,
    line: null,
    stretchPerPa: section.stretchPerPa === null ? null : Math.max(0, section.stretchPerPa),
    gasThermometer: hold.warmth === null ? 0 : gasThermometerBelief(hold.warmth),
    flowTells: high - low > constants.tellingFall * high,
    creeps,
    // Under suction the gas is initially colder than its wall, and creep is inwards.
    fullHeat: (2 / 7) * (pressurePa / hold.testPa),
    creepScale:
      constants.creepOfPressure * (pressurePa / hold.testPa) + Math.sign(pressurePa) * constants.creepLeast,
    dropStd: gauge / hold.testPa,
    scaleStd: Math.hypot(
      constants.spanStd,
      section.stretchPerPa === null ? constants.unstatedStd : 0,
      hold.zeroErrorPa / Math.sqrt(3) / gauge,
    ),
    unseenStd: Math.hypot(hold.unseenTemperatureK / hold.meanTemperatureK, unseenWeatherStd),
    unseenWeatherStd,
  }
}

/**
 * Prior of a hold of a full line.
 *
 * @param hold from after the last stroke before it
 */
export function fullLineBeliefs(
  hold: GasHold,
  line: FullLine,
  volumeM3: number,
  { pressurePa, holdS }: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  strokes: readonly Stroke[],
): HoldBeliefs {
  const { testPa, meanTemperatureK, unseenTemperatureK, rows, middleS } = hold
  const startS = middleS[0] - (rows.fromS[0] + rows.toS[0]) / 2
  const unseenWeatherStd = hold.barometricPa === null ? (unknownWeatherPaPerS * holdS) / testPa : 0
  return {
    sort: 2,
    line: {
      ...line,
      volumeM3,
      testPa,
      testGaugePa: pressurePa,
      strokes,
      strokeS: strokes.map(({ timeS }) => timeS - startS).filter((atS) => atS >= rows.holdFromS),
      // A converter step counts once, not at both ends (own figure, simulated lines).
      unseenLog: Math.hypot(constants.thermometerDriftK, unseenTemperatureK / Math.SQRT2) / meanTemperatureK,
      unseenWeatherStd,
    },
    stretchPerPa: 0,
    gasThermometer: 0,
    flowTells: false,
    creeps: true,
    fullHeat: (line.heatPerPa / (line.expansionPerK * meanTemperatureK)) * pressurePa,
    creepScale: constants.creepOfYield * (pressurePa / testPa),
    dropStd: Math.abs(pressurePa) / testPa,
    scaleStd: constants.lawStd,
    unseenStd: 0,
    unseenWeatherStd,
  }
}

/**
 * Prior probability that a thermometer measures the gas and not the wall, from its rise during pump-up. Gas warms by a
 * large share of the adiabatic rise; a wall, with its far larger heat capacity, hardly warms. Gas that cools during
 * pump-up may show little more than a wall, and the fit then decides.
 */
export function gasThermometerBelief({ share, seen }: ReturnType<typeof pumpUpWarmth>): number {
  if (seen && share < coldWall) return 0.01
  return Math.min(seen ? 0.99 : 0.8, Math.max(0.2, (share - roomWarmth) / 0.3))
}

/** Wall temperature rise from a warming room during pump-up of a tank, as a share of an adiabatic rise. Own figure. */
const roomWarmth = 0.1

/** Share of an adiabatic rise below which a thermometer is surely on the wall. Own figure. */
const coldWall = 0.006
