/**
 * Every constant of the hold model: value, unit, and source or reason. A pair is [line, tank] unless noted otherwise;
 * three values are [line of gas, tank, line full of fuel]. 'Spread' is 1 standard deviation of the logarithm of a
 * log-normal prior.
 */
export const constants = {
  // Heat between gas, wall, surroundings and thermometer.
  gasTauS: [22, 220, 45], // s at 1 K: conduction time grows with the square of the size, convection slows the growth (common practice); fuel: r²/5.8·D, 4.6 mm, D 8e-8 m²/s
  gasTauSpread: [0.8, 0.8, 0.5], // the same, a factor of 2.2 either way; fuel: radii of 3 to 7 mm
  mostSlowing: 0.3, // natural convection carries heat as ΔT^1.25 (laminar) to ΔT^1.33: exponent 0 to 0.3
  slowingMiddle: [-0.6, 0], // a line's gas conducts more than it convects
  slowingSpread: 1.3, // leaves both ends of the range likely
  stillK: 0.05, // K: below this difference conduction dominates
  wallTauS: [250, 500, 250], // s: not separable from changes of the surroundings, so any fixed value works (trial)
  thermometerTauS: 20, // s: a small probe in still air or taped to a wall (common practice)
  thermometerTauSpread: 0.8, // 9 to 45 s
  pumpHeatLeft: 0.35, // share of the adiabatic heat left at the start of the fit: part is lost during pump-up
  pumpHeatSpread: 0.8, // slow and fast pump-ups
  gainMost: [1.04, 1.04, 1.4], // a thermometer shows hardly more than the whole swing; on a full line only the local swing
  gainShort: [0.08, 0.08, 0.47], // typical shortfall (a stem that conducts, a loose contact)
  gainSpread: [1.1, 1.1, 0.45], // up to a quarter short within two standard deviations
  gasError: 0.04, // share of the gas's approach to its wall that one time constant does not describe (trial)
  gasErrorSpread: 0.7, // free: fixed, it prefers short time constants
  heatTrust: 0.03, // share of the late pump-up heat that may be wrong (simulated holds, docs/validation.md)
  heatIsLate: 0.2, // from this share of the hold on: earlier heat bends the curve too much to resemble a leak
  swingError: 0.08, // share of the wall's swing that gas and gauge do not follow (0.05 to 0.11 in the trial)
  swingTauS: [75, 300, 75], // s: correlation time of this error
  // Prior of the temperatures at the start of the fit, as ln T.
  startWall: 0.004, // 1.2 K about the mean of the thermometer
  startRoom: 0.001, // 0.3 K between wall and surroundings, apart from the heat of pumping
  startRoomHeat: 0.04, // share of the adiabatic heat that warms the wall
  startThermometer: 0.0012, // 0.35 K of error, the same throughout
  startGas: [0.06, 0.01], // of its heat and of the adiabatic heat: initial error of the gas (trial)
  startFelt: 0.125, // of the adiabatic heat: initial response of a thermometer in the gas (trial)
  roomSlopePerS: 5 / 3600 / 293, // 1/s: 5 K/h (the liveliest hangar of the validation)
  roomSlopeWalk: 2e-6, // 1/s over 1000 s: a slope that turns by 2 K/h
  roomWalk: 1.5e-6, // 1/√s: draughts
  roughSpread: [1.5, 1.5, 2.5], // from a still cellar to an open door; a full line is sensitive enough to resolve even stiller rooms
  // A closed reference vessel beside the section.
  vesselHeat: 0.3, // of the pump-up heat: size, wall and time constants differ by 15 % either way (simulated twins)
  vesselSwing: 0.35, // of the wall's swing, while the gas follows it: the same
  vesselGain: 0.05, // of the change that its gas explained: how closely a twin follows
  // Gauge errors.
  walkSize: 1.2, // drift over the span, in units of a block's white noise
  walkLeast: 0.5, // every gauge drifts at least this much
  walkSpread: 1.5, // a factor of 20 within two standard deviations
  whiteSpare: 1.1, // differences of neighbours slightly underestimate the noise of blocks
  transient: 0.03, // of the gauge pressure: transients of gauge and hose in the first seconds
  transientTauS: [5, 18], // s: thermal shock of the transducer, rubber (trial)
  spanStd: 0.015, // of a drop: the gauge's span and the leak law
  unstatedStd: 0.05, // the same for a section of unstated stretch: only slight curvature separates it from heat (simulated holds)
  // Creep of hoses and sealant.
  creepOfPressure: 0.004, // of the pressure ratio: hoses of the validation 0.05 to 0.4 % of the volume
  creepLeast: 3.5e-4, // and at the lowest pressure
  creepSteps: [3, 0.9, -2], // size = 3·scale·Φ(0.9u − 2): most sections hardly creep
  creepTauShare: 0.2, // time constant over the span; faster or slower creep does not resemble a leak
  creepTauSpread: 0.7,
  creepLogShare: 0.5, // share of creep that is logarithmic in time, relative to exponential creep
  creepLogS: 5, // s: its onset
  // Volume and flow.
  stretchPerPa: [0.008e-5, 0.3e-5], // 1/Pa where the file does not state it: lines are stiff, sheet tanks are not
  stretchSpread: 1.5, // 200 % per bar (docs/method.md section 1) lies within two standard deviations of a tank
  stretchTail: [0.5, 0], // of a line: a few include soft hoses, hence a tail of the logarithm in u²
  stretchTempering: 0.5, // weight of the data's estimate of an unstated stretch in a leak in moles (simulated holds)
  mostStretchPerPa: 2.2e-5, // 1/Pa: 200 % per bar and a little (docs/method.md section 1)
  statedStretch: 0.1, // relative error of a stated one
  flowExponent: 0.85, // of p² − p_b²: laminar 1, turbulent 0.5
  flowExponentStd: [0.35, 0.22], // below and above: with a path that narrows under pressure, the leak hardly falls with the pressure
  tellingFall: 0.04, // a smaller pressure fall carries no information about the flow law
  // A line full of fuel.
  leakSize: [1, 1, 3], // of the gauge pressure: drop in the stated time, standard deviation; allowances are up to a third of it
  level: [0.05, 0.05, 5], // of the absolute pressure at the start of the hold; a kelvin moves a full line by ten times that
  startContents: [0, 0, 0.001], // ln T, 0.3 K in an unsteady room: fuel pumped in lags behind its wall
  leastYield: 0.93, // of the yield of the liquid and the stated walls: error of the tables
  mostAir: 0.05, // of the volume: a carefully filled line
  softestWallPerPa: 2e-8, // 1/Pa: a long rubber hose (common practice)
  airSpread: 2.5, // the yield is mostly air, or mostly wall
  airMiddle: 0.3, // air is slightly more common
  strokeHeatLeft: [0.85, 0.2], // share of a stroke's heat left after the excluded time around its mark, and its spread (simulated lines)
  strokeClearS: 3, // s excluded around a stroke's mark: mark and push are never simultaneous
  creepOfYield: 0.1, // share of the yield beyond the liquid's that may creep: hoses (common practice)
  dissolving: 0.004, // share of the pressure that dissolving air may take in the stated time, at a leak's constant rate (own figure)
  thermometerDriftK: 0.002, // K: drift over a hold that the thermometer's noise does not reveal (own figure)
  lawStd: 0.03, // of a drop: leak law and shape of the yield (own figure)
  // Prior and likelihood.
  inflow: 0.05, // prior probability of inflow: gas leaks outwards
  temperingPower: 0.5, // power posterior of the hyperparameters: eases the integration, hardly changes its result (trial)
  fullLinePower: [0.5, 0.05], // the same for a full line with a stroke and without: heat, creep and air then imitate the yield (simulated lines)
} as const

/** The constants with other values, for the uncertainty budget. */
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
