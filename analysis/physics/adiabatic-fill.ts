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
