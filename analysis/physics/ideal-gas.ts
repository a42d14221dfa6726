/** Molar gas constant, [J/(mol·K)], exact. Source: [si-brochure] */
export const gasConstant = 8.31446261815324

/** Standard atmosphere, [Pa], exact. Source: [nist-sp811] */
export const standardAtmospherePa = 101325

/** Ratio of specific heats of air and nitrogen near room temperature, taken as 7/5. Source: common practice */
export const heatRatio = 1.4

/** Gases for holds. */
export type Gas = 'air' | 'nitrogen'

/** Molar mass, [kg/mol]. Source: [cipm-2007] for dry air; IUPAC atomic weights for nitrogen, from memory */
export const molarMassKg: Readonly<Record<Gas, number>> = { air: 28.96546e-3, nitrogen: 28.0134e-3 }

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

/**
 * Share of the heat of pumping left in the gas: (τ/T)·(1 − e^(−T/τ))·e^(−d/τ), pumped up evenly in T, a time d ago.
 *
 * @param sinceS time since pumping began, T + d or less, [s]
 * @param rampS duration of pumping, T, [s]
 * @param tauS time constant of heat flow from gas to wall, [s]
 *
 * Check: T far below τ and d = 0 keeps all
 */
export function heatLeft(sinceS: number, rampS: number, tauS: number): number {
  if (sinceS <= 0) return 0
  const pumping = Math.min(sinceS, rampS)
  return (tauS / rampS) * -Math.expm1(-pumping / tauS) * Math.exp(-(sinceS - pumping) / tauS)
}
