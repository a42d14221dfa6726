/** Molar gas constant, [J/(mol·K)], exact. Source: [si-brochure] */
export const gasConstant = 8.31446261815324

/** Standard atmosphere, [Pa], exact. Source: [nist-sp811] */
export const standardAtmospherePa = 101325

/** Ratio of specific heats of air and nitrogen near room temperature, taken as 7/5. Source: common practice */
export const heatRatio = 1.4

/** Gases a section is held with. */
export type Gas = 'air' | 'nitrogen'

/** Molar mass, [kg/mol]. Source: [cipm-2007] for dry air; IUPAC atomic weights for nitrogen, from memory */
export const molarMassKg: Readonly<Record<Gas, number>> = { air: 28.96546e-3, nitrogen: 28.0134e-3 }

/**
 * Amount of gas n = pV/(RT).
 *
 * @param absolutePa absolute pressure, [Pa]
 * @param volumeM3 [m³]
 * @param temperatureK [K], > 0
 * @returns [mol]
 *
 * Holds for: air and nitrogen up to a few bar; the neglected compressibility is under 0.1 %
 * Check: [40-cfr-1065] 2.000 L, 25.3 → 50.6 kPa, 293.15 K in 70 s → 2.965705e-4 mol/s (computed)
 */
export function amountMol(absolutePa: number, volumeM3: number, temperatureK: number): number {
  return (absolutePa * volumeM3) / (gasConstant * temperatureK)
}

/**
 * Pressure change of a rigid closed volume of gas for each kelvin: p/T.
 *
 * Check: at 1 psig, 20 °C, 369.16 Pa/K; at 3.5 psig 427.96 Pa/K (computed)
 */
export function rigidPaPerK(absolutePa: number, temperatureK: number): number {
  return absolutePa / temperatureK
}

/**
 * Viscosity of a gas by Sutherland's law, μ₀ (T/T₀)^1.5 (T₀ + S)/(T + S).
 *
 * @returns [Pa·s]
 * Uncertainty: about 2 % near room temperature
 * Source: [white-viscous], constants from memory
 */
export function gasViscosityPaS(gas: Gas, temperatureK: number): number {
  const [atZero, s] = gas === 'air' ? [1.716e-5, 110.4] : [1.663e-5, 106.7]
  return (atZero * (temperatureK / 273.15) ** 1.5 * (273.15 + s)) / (temperatureK + s)
}
