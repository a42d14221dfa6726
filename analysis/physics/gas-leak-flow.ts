import { type Gas, gasConstant, heatRatio, molarMassKg } from './ideal-gas.ts'

/**
 * Ratio of downstream to upstream pressure below which a hole chokes: (2/(γ+1))^(γ/(γ−1)).
 *
 * Check: 0.52828 for γ = 1.4; against one atmosphere that is 13.12 psig (computed)
 */
export const criticalPressureRatio = (2 / (heatRatio + 1)) ** (heatRatio / (heatRatio - 1))

/**
 * Scale from the leak at one pressure to the leak at another for a laminar path, (p² − p_b²) over the same.
 *
 * The fine paths of joints leak so; at the small pressures here an orifice differs little.
 *
 * @param fromPa absolute pressure inside where the leak is known, [Pa]
 * @param toPa absolute pressure inside where it is wanted, [Pa]
 * @param outsidePa absolute pressure outside, [Pa]
 * @throws RangeError when there is no pressure difference to scale from
 */
export function laminarScale(fromPa: number, toPa: number, outsidePa: number): number {
  const from = fromPa * fromPa - outsidePa * outsidePa
  if (from === 0) throw new RangeError('a leak without a pressure difference cannot be scaled')
  return (toPa * toPa - outsidePa * outsidePa) / from
}

/**
 * Flow of gas through a sharp-edged hole, isentropic, choked where the pressures say so.
 *
 * @param diameterM hole, [m]
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
