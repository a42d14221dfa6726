import { heatRatio } from './ideal-gas.ts'

/**
 * What a quick fill does: gas pushed in arrives hot, and as it cools the pressure falls though nothing leaks.
 *
 * @param startPa absolute pressure before, [Pa]
 * @param filledPa absolute pressure right after, [Pa]
 * @param temperatureK of the section and of the supply, [K]
 * @returns pressure once the gas is cool again, [Pa], and how much hotter it was, [K]
 *
 * Holds for: a fill so quick that no heat was lost; real ones lose less pressure
 * Source: energy balance of an open volume, γ = 1.4; computed
 * Check: 0 → 3.5 psig ends at 2.5 psig: the pressure added loses 2/7; 17.05 K (computed)
 */
export function adiabaticFill(
  startPa: number,
  filledPa: number,
  temperatureK: number,
): { readonly cooledPa: number; readonly warmingK: number } {
  const cooledPa = startPa + (filledPa - startPa) / heatRatio
  return { cooledPa, warmingK: temperatureK * (filledPa / cooledPa - 1) }
}

/**
 * Share of the heat of pumping that the gas still has: (τ/T)·(1 − e^(−T/τ))·e^(−d/τ), pumped up evenly in T, d ago.
 *
 * @param sinceS time since pumping began, T + d or less, [s]
 * @param rampS how long it takes, T, [s]
 * @param tauS time constant with which the gas gives its heat to the wall, [s]
 *
 * Check: T far below τ and d = 0 keeps all
 */
export function heatLeft(sinceS: number, rampS: number, tauS: number): number {
  if (sinceS <= 0) return 0
  const pumping = Math.min(sinceS, rampS)
  return (tauS / rampS) * -Math.expm1(-pumping / tauS) * Math.exp(-(sinceS - pumping) / tauS)
}
