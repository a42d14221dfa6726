import { type HoldSpec, isTank, type Section } from '#analysis/model/system.ts'
import { normalCdf, normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/unknown-weather.ts'
import type { GasHold } from './gas-rows.ts'

/**
 * Every constant of the gas model: value, unit, and the source or the reason. A pair is [line, tank]. 'Spread' is that of a
 * log-normal belief, 1 standard deviation of its logarithm.
 */
export const constants = {
  // Heat between gas, wall, surroundings and thermometer.
  gasTauS: [22, 220], // s at 1 K: conduction time grows with the square of the size, convection slows the growth (common practice)
  gasTauSpread: 0.8, // the same, a factor of 2.2 either way
  mostSlowing: 0.3, // natural convection carries heat as ΔT^1.25 (laminar) to ΔT^1.33: exponent 0 to 0.3
  slowingMiddle: [-0.6, 0], // a line's gas conducts more than it convects
  slowingSpread: 1.3, // leaves both ends of the range likely
  stillK: 0.05, // K: below this difference conduction carries the heat
  wallTauS: [250, 500], // s: cannot be told from the surroundings' own change, so that any fixed figure serves (trial)
  thermometerTauS: 20, // s: a small probe in still air or taped to a wall (common practice)
  thermometerTauSpread: 0.8, // 9 to 45 s
  pumpHeatLeft: 0.35, // share of the adiabatic heat left where the fit begins: part goes while it is pumped up
  pumpHeatSpread: 0.8, // slow and quick pump-ups
  gainMost: 1.04, // a thermometer shows hardly more than the whole swing
  gainShort: 0.08, // what it falls short by (a stem that conducts, a loose contact)
  gainSpread: 1.1, // up to a quarter short within two standard deviations
  gasError: 0.04, // share of the gas's way to its wall that one time constant does not describe (trial)
  gasErrorSpread: 0.7, // free: fixed, it prefers short time constants
  heatTrust: 0.03, // share of the late pump-up heat that may be wrong (simulated holds, docs/validation.md)
  heatIsLate: 0.2, // from this share of the hold on: earlier heat bends the curve too much to pass for a leak
  swingError: 0.08, // share of the wall's swing that gas and gauge do not follow (0.05 to 0.11 in the trial)
  swingTauS: [75, 300], // s for which such an error keeps its sign
  // What is known of the temperatures when the fit begins, as ln T.
  startWall: 0.004, // 1.2 K about the mean of the thermometer
  startRoom: 0.001, // 0.3 K between wall and surroundings, and what pumping warmed the wall by
  startRoomHeat: 0.04, // share of the adiabatic heat that warms the wall
  startThermometer: 0.0012, // 0.35 K of error, the same throughout
  startGas: [0.06, 0.01], // of its heat and of the adiabatic heat: how far the gas may be off at the start (trial)
  startFelt: 0.125, // of the adiabatic heat: what a thermometer in the gas may have felt of it (trial)
  roomSlopePerS: 5 / 3600 / 293, // 1/s: 5 K/h (the liveliest hangar of the validation)
  roomSlopeWalk: 2e-6, // 1/s over 1000 s: a slope that turns by 2 K/h
  roomWalk: 1.5e-6, // 1/√s: draughts
  roughSpread: 1.5, // a still cellar to an open door
  // A closed reference vessel beside the section.
  vesselHeat: 0.3, // of the pump-up heat: size and wall differ by 15 % either way, and so do their time constants (simulated twins)
  vesselSwing: 0.35, // of the wall's swing, for as long as the gas takes to follow: the same
  vesselGain: 0.05, // of the change that its gas took out: how closely a twin follows
  // What the gauge adds.
  walkSize: 1.2, // drift over the span, in units of a block's white noise
  walkLeast: 0.5, // a gauge that does not drift at all is not believed
  walkSpread: 1.5, // a factor of 20 within two standard deviations
  whiteSpare: 1.1, // neighbours show a little less noise than blocks have
  transient: 0.03, // of the gauge pressure: what gauge and hose do in the first seconds
  transientTauS: [5, 18], // s: thermal shock of the transducer, rubber (trial)
  spanStd: 0.015, // of a drop: the gauge's span and the leak law
  unstatedStd: 0.05, // the same of a section whose stretch is not stated: small bends tell it from heat (simulated holds)
  // Creep of hoses and sealant.
  creepOfPressure: 0.004, // of the pressure ratio: hoses of the validation 0.05 to 0.4 % of the volume
  creepLeast: 3.5e-4, // and at the lowest pressure
  creepSteps: [3, 0.9, -2], // size = 3·scale·Φ(0.9u − 2): most sections creep by next to nothing
  creepTauShare: 0.2, // time constant over the span; faster or slower creep is not taken for a leak
  creepTauSpread: 0.7,
  creepLogShare: 0.5, // of creep that goes with the logarithm of time, over the exponential kind
  creepLogS: 5, // s at which it begins
  // Volume and flow.
  stretchPerPa: [0.008e-5, 0.3e-5], // 1/Pa where the file says nothing: lines are stiff, sheet tanks are not
  stretchSpread: 1.5, // 200 % per bar (docs/method.md section 1) lies within two standard deviations of a tank
  stretchTail: [0.5, 0], // and of a line: a few hang on hoses that give way, a tail of the logarithm in u²
  stretchTempering: 0.5, // how far the data's word on an unstated stretch counts for a leak in moles (simulated holds)
  mostStretchPerPa: 2.2e-5, // 1/Pa: 200 % per bar and a little (docs/method.md section 1)
  statedStretch: 0.1, // relative error of a stated one
  flowExponent: 0.85, // of p² − p_b²: laminar 1, turbulent 0.5
  flowExponentStd: [0.35, 0.22], // below and above: a path that narrows as the pressure rises falls hardly at all
  tellingFall: 0.04, // a pressure that falls by less says nothing of the flow law
  // Belief.
  inflow: 0.05, // that something feeds the section where the data say so: gas leaks outwards
  temperingPower: 0.5, // power of the likelihood of hyperparameters: eases the integral, hardly moves its result (trial)
} as const

/** The constants with other values, as the uncertainty budget varies them. */
export type GasConstants = {
  readonly [Name in keyof typeof constants]: (typeof constants)[Name] extends number
    ? number
    : readonly number[]
}

/** The constants that shape one hold, as coordinates in a vector of independent standard normal variables. */
export const coordinate = {
  gasTau: 0,
  slowing: 1,
  thermometerTau: 2,
  gasShare: 3,
  pumpHeat: 4,
  gasError: 5,
  walk: 6,
  rough: 7,
  creep: 8,
  gain: 9,
  stretch: 10,
  flow: 11,
  creepTau: 12,
} as const

export const coordinates = 13

/** What is believed before the hold; amplitudes are of ln p, dimensionless. */
export interface GasBeliefs {
  readonly tank: boolean
  /** κ of V = V₀(1 + κ·g), [1/Pa]; null where the file does not state it. */
  readonly stretchPerPa: number | null
  /** Belief that the thermometer feels the gas and not the wall, 0 to 1. */
  readonly gasThermometer: number
  /** Whether the pressure falls so far that flow laws differ. */
  readonly flowTells: boolean
  /** Whether what gives way slowly may hide in the hold: not where a neighbour is seen to gain what is lost. */
  readonly creeps: boolean
  /** Amplitude an adiabatic pump-up would have; negative for a suction. */
  readonly fullHeat: number
  /** Size of a usual creep, negative for a suction. */
  readonly creepScale: number
  /** Standard deviation of the drop in the stated hold time: wide. */
  readonly dropStd: number
  /** Relative standard deviation of a drop put to the stated pressure. */
  readonly scaleStd: number
  /** What the fit cannot see and the leak must carry (unknown weather, steps of a converter), as a drop. */
  readonly unseenStd: number
  /** The weather's part of it. */
  readonly unseenWeatherStd: number
}

/** One set of the model's constants. */
export interface GasShape {
  readonly gasTauS: number
  readonly slowing: number
  readonly thermometerTauS: number
  readonly gasShare: number
  readonly pumpHeat: number
  readonly gasError: number
  readonly walk: number
  readonly rough: number
  readonly creep: number
  readonly creepTauS: number
  readonly gain: number
  readonly stretchPerPa: number
  readonly flowExponent: number
}

/** The coordinates that a hold leaves open. */
export function openPlaces(beliefs: GasBeliefs, hasThermometer: boolean): number[] {
  const open: number[] = [
    coordinate.gasTau,
    coordinate.slowing,
    coordinate.pumpHeat,
    coordinate.gasError,
    coordinate.walk,
  ]
  if (beliefs.creeps) open.push(coordinate.creep, coordinate.creepTau)
  if (hasThermometer) open.push(coordinate.thermometerTau, coordinate.rough, coordinate.gain)
  if (hasThermometer && beliefs.gasThermometer > 0.015) open.push(coordinate.gasShare)
  if (beliefs.stretchPerPa === null) open.push(coordinate.stretch)
  if (beliefs.flowTells) open.push(coordinate.flow)
  return open.sort((a, b) => a - b)
}

/** The constants that a point of the beliefs stands for. */
export function shapeAt(
  u: Float64Array,
  beliefs: GasBeliefs,
  spanS: number,
  c: GasConstants = constants,
): GasShape {
  const sort = beliefs.tank ? 1 : 0
  const [most, spread, middle] = c.creepSteps
  return {
    gasTauS: c.gasTauS[sort] * Math.exp(c.gasTauSpread * u[coordinate.gasTau]),
    slowing: c.mostSlowing * normalCdf(c.slowingSpread * u[coordinate.slowing] + c.slowingMiddle[sort]),
    thermometerTauS: c.thermometerTauS * Math.exp(c.thermometerTauSpread * u[coordinate.thermometerTau]),
    gasShare:
      beliefs.gasThermometer > 0.015
        ? normalCdf(1.6 * u[coordinate.gasShare] + 2 * normalQuantile(bounded(beliefs.gasThermometer)))
        : 0,
    pumpHeat: c.pumpHeatLeft * beliefs.fullHeat * Math.exp(c.pumpHeatSpread * u[coordinate.pumpHeat]),
    gasError: c.gasError * Math.exp(c.gasErrorSpread * u[coordinate.gasError]),
    walk: Math.hypot(c.walkLeast, c.walkSize * Math.exp(c.walkSpread * u[coordinate.walk])),
    rough: Math.exp(c.roughSpread * u[coordinate.rough]),
    creep: beliefs.creeps
      ? most * Math.abs(beliefs.creepScale) * normalCdf(spread * u[coordinate.creep] + middle)
      : 0,
    creepTauS: c.creepTauShare * spanS * Math.exp(c.creepTauSpread * u[coordinate.creepTau]),
    gain: c.gainMost / (1 + c.gainShort * Math.exp(c.gainSpread * u[coordinate.gain])),
    stretchPerPa:
      beliefs.stretchPerPa ??
      Math.min(
        c.mostStretchPerPa,
        c.stretchPerPa[sort] *
          Math.exp(
            c.stretchSpread * u[coordinate.stretch] +
              c.stretchTail[sort] * Math.max(0, u[coordinate.stretch]) ** 2,
          ),
      ),
    flowExponent: beliefs.flowTells
      ? Math.min(
          1.1,
          Math.max(
            0,
            c.flowExponent + c.flowExponentStd[u[coordinate.flow] < 0 ? 0 : 1] * u[coordinate.flow],
          ),
        )
      : 1,
  }
}

function bounded(belief: number): number {
  return Math.min(0.98, Math.max(0.02, belief))
}

/** The value of `gasShare` that makes the thermometer feel the gas alone, for a start of the search. */
export function gasThermometerStart(beliefs: GasBeliefs): number {
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

/** The atmosphere's change over the hold that no barometer sees, and how far the section's gauge feels it, [Pa]. */
export function unseenWeatherPa(hold: GasHold, section: Section, holdS: number): number {
  const unseen = hold.unseenWeatherPa ?? unknownWeatherPaPerS * holdS
  // An absolute gauge feels the weather only through a volume that gives way to it.
  const feels = hold.absolute ? (isTank(section) && section.stretchPerPa !== 0 ? 0.5 : 0.05) : 1
  return feels * unseen
}

/** What is believed of a gas hold before its data. */
export function gasBeliefs(
  hold: GasHold,
  section: Section,
  { pressurePa, holdS }: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  creeps = true,
): GasBeliefs {
  const gauge = Math.abs(pressurePa)
  const { gaugePa, toS, holdFromS } = hold.rows
  const span = toS[toS.length - 1]
  // What is left of the pump-up heat early in a hold would be taken for a fall that tells of the leak.
  const late = toS.findIndex((endS) => endS > holdFromS + 0.25 * (span - holdFromS))
  const sorted = gaugePa.subarray(late).map(Math.abs).sort()
  const high = sorted[Math.floor(0.95 * sorted.length)]
  const low = sorted[Math.floor(0.05 * sorted.length)]
  const unseenWeatherStd = unseenWeatherPa(hold, section, holdS) / hold.testPa
  return {
    tank: isTank(section),
    stretchPerPa: section.stretchPerPa === null ? null : Math.max(0, section.stretchPerPa),
    gasThermometer: hold.warmth === null ? 0 : gasThermometerBelief(hold.warmth),
    flowTells: high - low > constants.tellingFall * high,
    creeps,
    // Under suction the gas is colder than its wall at first, and what gives way slowly gives way inwards.
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
 * Belief that a thermometer feels the gas and not the wall, from how far it rose while the section was pumped up:
 * gas warms by a good share of the adiabatic rise, a wall with its far larger heat capacity by next to nothing. Gas that
 * cools while it is pumped up may show little more than a wall, and the fit must say which it is.
 */
export function gasThermometerBelief({
  share,
  seen,
}: {
  readonly share: number
  readonly seen: boolean
}): number {
  if (seen && share < coldWall) return 0.01
  return Math.min(seen ? 0.99 : 0.8, Math.max(0.2, (share - roomWarmth) / 0.3))
}

/** Share of an adiabatic rise that a room which warms makes a wall show while a tank is pumped up. Own figure. */
const roomWarmth = 0.1

/** Share of an adiabatic rise that a thermometer on a wall hardly ever shows. Own figure. */
const coldWall = 0.006
