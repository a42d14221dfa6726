import { gasConstant } from './ideal-gas.ts'

/**
 * Liquid that a laminar path would pass, from the gas that it passes at the same pressures:
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
 * Holds for: one straight fine path, both flows laminar, no surface tension and no swelling; a fine path may hold a
 * liquid back altogether, so this is what it could pass and not what it will
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
