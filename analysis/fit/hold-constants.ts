/**
 * Every constant of the model of a hold: value, unit, and the source or the reason. A pair is [line, tank] where
 * nothing else is said, three values are [line of gas, tank, line full of fuel]. 'Spread' is that of a log-normal belief, 1 standard
 * deviation of its logarithm.
 */
export const constants = {
  // Heat between gas, wall, surroundings and thermometer.
  gasTauS: [22, 220, 45], // s at 1 K: conduction time grows with the square of the size, convection slows the growth (common practice); fuel: r²/5.8·D, 4.6 mm, D 8e-8 m²/s
  gasTauSpread: [0.8, 0.8, 0.5], // the same, a factor of 2.2 either way; fuel: radii of 3 to 7 mm
  mostSlowing: 0.3, // natural convection carries heat as ΔT^1.25 (laminar) to ΔT^1.33: exponent 0 to 0.3
  slowingMiddle: [-0.6, 0], // a line's gas conducts more than it convects
  slowingSpread: 1.3, // leaves both ends of the range likely
  stillK: 0.05, // K: below this difference conduction carries the heat
  wallTauS: [250, 500, 250], // s: cannot be told from the surroundings' own change, so that any fixed figure serves (trial)
  thermometerTauS: 20, // s: a small probe in still air or taped to a wall (common practice)
  thermometerTauSpread: 0.8, // 9 to 45 s
  pumpHeatLeft: 0.35, // share of the adiabatic heat left where the fit begins: part goes while it is pumped up
  pumpHeatSpread: 0.8, // slow and quick pump-ups
  gainMost: [1.04, 1.04, 1.4], // a thermometer shows hardly more than the whole swing; on a full line the swing of one place
  gainShort: [0.08, 0.08, 0.47], // what it falls short by (a stem that conducts, a loose contact)
  gainSpread: [1.1, 1.1, 0.45], // up to a quarter short within two standard deviations
  gasError: 0.04, // share of the gas's way to its wall that one time constant does not describe (trial)
  gasErrorSpread: 0.7, // free: fixed, it prefers short time constants
  heatTrust: 0.03, // share of the late pump-up heat that may be wrong (simulated holds, docs/validation.md)
  heatIsLate: 0.2, // from this share of the hold on: earlier heat bends the curve too much to pass for a leak
  swingError: 0.08, // share of the wall's swing that gas and gauge do not follow (0.05 to 0.11 in the trial)
  swingTauS: [75, 300, 75], // s for which such an error keeps its sign
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
  roughSpread: [1.5, 1.5, 2.5], // a still cellar to an open door; a full line is a thermometer that sees stiller rooms yet
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
  // A line full of fuel.
  leakSize: [1, 1, 3], // of the gauge pressure: drop in the stated time, standard deviation; allowances are up to a third of it
  level: [0.05, 0.05, 5], // of the absolute pressure: where the hold begins; a kelvin moves a full line by ten times that
  startContents: [0, 0, 0.001], // ln T, 0.3 K where the room is lively: fuel that was pumped in, and that lags behind its wall
  leastYield: 0.93, // of the yield of the liquid and the stated walls: how far tables may be off
  mostAir: 0.05, // of the volume: a line filled with care
  softestWallPerPa: 2e-8, // 1/Pa: a long rubber hose (common practice)
  airSpread: 2.5, // what yields is mostly air, or mostly wall
  airMiddle: 0.3, // a little oftener air
  strokeHeatLeft: [0.85, 0.2], // share of the heat of a push that is there when its mark's surroundings are left, and its spread (simulated lines)
  strokeClearS: 3, // s about a stroke's mark that belong to it: nobody marks and pushes in the same instant
  creepOfYield: 0.1, // share of what yields beyond the liquid that may go on yielding: creep of hoses (common practice)
  dissolving: 0.004, // share of the pressure that air may lose into solution in the stated time, as evenly as a leak (own figure)
  thermometerDriftK: 0.002, // K: drift over a hold that the thermometer's noise does not tell (own figure)
  lawStd: 0.03, // of a drop: leak law and shape of the yield (own figure)
  // Belief.
  inflow: 0.05, // that something feeds the section where the data say so: gas leaks outwards
  temperingPower: 0.5, // power of the likelihood of hyperparameters: eases the integral, hardly moves its result (trial)
  fullLinePower: [0.5, 0.05], // the same of a full line with a stroke and without: heat, creep and air imitate what then tells the yield (simulated lines)
} as const

/** The constants with other values, as the uncertainty budget varies them. */
export type HoldConstants = {
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
  yield: 13,
  air: 14,
} as const

export const coordinates = 15
