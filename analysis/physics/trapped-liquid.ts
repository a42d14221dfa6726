/** A closed line full of liquid, with what yields in it. */
export interface TrappedLiquid {
  /** Thermal expansion of the liquid, [1/K]. */
  readonly expansionPerK: number
  /** Compressibility of the liquid, [1/Pa]. */
  readonly compressibilityPerPa: number
  /** Growth of the line's volume with temperature, three times the linear expansion of its metal, [1/K]. */
  readonly wallExpansionPerK: number
  /** Growth of the line's volume with pressure, [1/Pa]. */
  readonly wallStretchPerPa: number
  /** Share of the volume that is air at this pressure, 0 to 1. */
  readonly airShare: number
  /** Absolute pressure, [Pa]. */
  readonly absolutePa: number
  readonly temperatureK: number
}

/** Volumetric expansion of line metals, three times the linear one, [1/K]. Source: from memory, common tables */
export const wallExpansionPerK = { aluminium: 3 * 23.6e-6, steel: 3 * 12e-6, stainless: 3 * 17e-6 } as const

/**
 * Relative volume that yields for each pascal: liquid, air and wall together.
 *
 *   (1 − φ) β + φ/p + κ
 *
 * @returns [1/Pa]
 * Holds for: isothermal small changes; the air does not dissolve
 */
export function compliancePerPa(line: TrappedLiquid): number {
  return (
    (1 - line.airShare) * line.compressibilityPerPa + line.airShare / line.absolutePa + line.wallStretchPerPa
  )
}

/** Relative volume by which the contents outgrow the line for each kelvin, (1 − φ) α + φ/T − α_wall, [1/K]. */
export function netExpansionPerK(line: TrappedLiquid): number {
  return (1 - line.airShare) * line.expansionPerK + line.airShare / line.temperatureK - line.wallExpansionPerK
}
