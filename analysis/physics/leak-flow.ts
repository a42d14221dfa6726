import { type Gas, gasConstant, gasViscosityPaS, heatRatio, molarMassKg } from './ideal-gas.ts'

/**
 * Ratio of downstream to upstream pressure below which a hole chokes: (2/(γ+1))^(γ/(γ−1)).
 *
 * Check: 0.52828 for γ = 1.4; against one atmosphere that is 13.12 psig (computed)
 */
export const criticalPressureRatio = (2 / (heatRatio + 1)) ** (heatRatio / (heatRatio - 1))

/**
 * Ratio of the leaks through a laminar path at two pressures, that of their p² − p_b².
 *
 * Fine paths of joints leak this way; at these low pressures an orifice differs little.
 *
 * @param fromPa absolute pressure inside of the known leak, [Pa]
 * @param toPa absolute pressure inside of the wanted leak, [Pa]
 * @param outsidePa absolute pressure outside, [Pa]
 * @throws RangeError when there is no pressure difference to scale from
 */
export function laminarScale(fromPa: number, toPa: number, outsidePa: number): number {
  const from = fromPa * fromPa - outsidePa * outsidePa
  if (from === 0) throw new RangeError('a leak without a pressure difference cannot be scaled')
  return (toPa * toPa - outsidePa * outsidePa) / from
}

/**
 * Flow of gas through a sharp-edged hole, isentropic, choked above the critical pressure ratio.
 *
 * @param diameterM of the hole, [m]
 * @param upstreamPa absolute, [Pa]
 * @param downstreamPa absolute, [Pa], at most upstream
 * @param temperatureK upstream, [K]
 * @param dischargeCoefficient 0 to 1
 * @returns [mol/s]
 *
 * Source: [white-fluid] isentropic nozzle flow, from memory
 * Check: 0.1 mm, Cd 0.6, 3.5 psig, 20 °C, air: 52.30 scc/min at 0 °C (computed)
 */
export function orificeMolPerS(
  gas: Gas,
  diameterM: number,
  upstreamPa: number,
  downstreamPa: number,
  temperatureK: number,
  dischargeCoefficient: number,
): number {
  if (downstreamPa >= upstreamPa) return 0
  const ratio = Math.max(downstreamPa / upstreamPa, criticalPressureRatio)
  const areaM2 = (Math.PI / 4) * diameterM * diameterM
  const expansion =
    ((2 * heatRatio) / (heatRatio - 1)) * (ratio ** (2 / heatRatio) - ratio ** ((heatRatio + 1) / heatRatio))
  const massFlow =
    areaM2 * upstreamPa * Math.sqrt((expansion * molarMassKg[gas]) / (gasConstant * temperatureK))
  return (dischargeCoefficient * massFlow) / molarMassKg[gas]
}

/**
 * Diameter of the sharp-edged hole that would pass a leak: flow grows with the square of the diameter.
 *
 * @returns [m]; 0 for no leak
 */
export function equivalentHoleM(
  gas: Gas,
  leakMolPerS: number,
  upstreamPa: number,
  downstreamPa: number,
  temperatureK: number,
  dischargeCoefficient: number,
): number {
  const millimetre = orificeMolPerS(gas, 1e-3, upstreamPa, downstreamPa, temperatureK, dischargeCoefficient)
  if (!(leakMolPerS > 0)) return 0
  if (millimetre === 0) throw new RangeError('no pressure difference drives a leak through a hole')
  return 1e-3 * Math.sqrt(leakMolPerS / millimetre)
}

/**
 * Liquid flow through a laminar path, from its gas flow at the same pressures:
 *
 *   Q = 2 μ_g n R T Δp / (μ_l (p² − p_b²))
 *
 * @param leakMolPerS gas leak, [mol/s]
 * @param insidePa absolute pressure inside, [Pa]
 * @param outsidePa absolute pressure outside, [Pa], below inside
 * @param temperatureK of the gas in the path, [K]
 * @param gasViscosityPaS [Pa·s]
 * @param liquidViscosityPaS [Pa·s]
 * @returns [m³/s]
 *
 * Holds for: one straight fine path, both flows laminar, no surface tension and no swelling; a fine path may block a
 * liquid completely, so this is an upper bound
 * Source: Poiseuille flow of a gas and of a liquid through one path; common practice
 * Check: 1 scc/min (0 °C) of air at 3.5 psig is about 2.095 mL/h of avgas at 0.5 mPa·s (computed)
 */
export function laminarLiquidM3PerS(
  leakMolPerS: number,
  insidePa: number,
  outsidePa: number,
  temperatureK: number,
  gasViscosityPaS: number,
  liquidViscosityPaS: number,
): number {
  // p² − p_b² = (p − p_b)(p + p_b): the difference cancels
  return (
    (2 * gasViscosityPaS * leakMolPerS * gasConstant * temperatureK) /
    (liquidViscosityPaS * (insidePa + outsidePa))
  )
}

/**
 * Liquid through a sharp-edged hole: Cd · A · √(2Δp/ρ).
 *
 * @returns [m³/s]; 0 without a pressure difference
 * Source: [white-fluid] Torricelli's law, from memory
 * Check: 0.1 mm, Cd 0.6, 3.5 psig, 721 kg/m³: 2.313 mL/min (computed)
 */
export function orificeLiquidM3PerS(
  diameterM: number,
  differencePa: number,
  densityKgM3: number,
  dischargeCoefficient: number,
): number {
  if (!(differencePa > 0)) return 0
  const areaM2 = (Math.PI / 4) * diameterM * diameterM
  return dischargeCoefficient * areaM2 * Math.sqrt((2 * differencePa) / densityKgM3)
}

/**
 * Flow of air through a capillary, laminar and isothermal.
 *
 * ṅ = π·d⁴·(p₁² − p₂²)/(256·μ·L·R·T)
 *
 * @param boreM inside diameter, [m]
 * @param lengthM [m], many times the bore
 * @param highPa absolute, upstream, [Pa]
 * @param lowPa absolute, downstream, [Pa]
 * @param temperatureK [K]
 * @returns [mol/s]
 *
 * *Holds for* Reynolds numbers under some 1000 and bores above some 20 µm, where slip is under 1 %.
 * *Uncertainty* four times that of the bore: a bore known to 5 % gives the rate to 20 %, so a capillary is calibrated.
 * *Source* [white-fluid] Poiseuille flow of a gas whose density follows its pressure, from memory
 * *Check* 50 µm, 20 cm, 10 psi over an atmosphere, 20 °C: 0.219 scc/min; 150 µm, 5 cm, 1 psi: 5.47 scc/min (computed, μ 1.81e-5)
 */
export function capillaryMolPerS(
  boreM: number,
  lengthM: number,
  highPa: number,
  lowPa: number,
  temperatureK: number,
): number {
  const drive = highPa ** 2 - lowPa ** 2
  return (
    (Math.PI * boreM ** 4 * drive) /
    (256 * gasViscosityPaS('air', temperatureK) * lengthM * gasConstant * temperatureK)
  )
}

/** Flow of a bleed measured under water, with its uncertainty. */
export interface Displaced {
  readonly volumeM3: number
  readonly stdM3: number
  readonly seconds: number
  readonly temperatureK: number
  readonly atmospherePa: number
}

/** Uncertainty of stop watch and eye at both ends, [s], and of the thermometer in the water, [K]. Own figures. */
const handS = 1
const waterK = 0.5

/**
 * Rate of a bleed from the gas collected in a measuring cylinder over water.
 *
 * ṅ = (p_b − p_w)·V/(R·T·t): the gas in the cylinder is moist, and water vapor does not count.
 *
 * *Holds for* equal water levels inside and outside at the reading.
 * *Uncertainty* of volume, time and temperature, one standard deviation, to first order.
 * *Source* common practice; vapor pressure of water after Tetens, from memory
 * *Check* 10 mL in 600 s at 20 °C and 101325 Pa: 0.910 scc/min (computed)
 */
export function displacedMolPerS({ volumeM3, stdM3, seconds, temperatureK, atmospherePa }: Displaced): {
  value: number
  std: number
} {
  const celsius = temperatureK - 273.15
  const vaporPa = 610.78 * Math.exp((17.27 * celsius) / (celsius + 237.3))
  const value = ((atmospherePa - vaporPa) * volumeM3) / (gasConstant * temperatureK * seconds)
  const share = Math.hypot(stdM3 / volumeM3, (handS * Math.SQRT2) / seconds, waterK / temperatureK)
  return { value, std: share * value }
}
