import type { Medium } from '#analysis/model/system.ts'

/** Liquids for holds. */
export type Fuel = 'avgas' | 'mogas' | 'jet-a'

export interface FuelProperties {
  /** Density at 15 °C and its standard uncertainty over fuels as sold, [kg/m³]. */
  readonly density15KgM3: number
  readonly stdDensity15KgM3: number
  /** Viscosity near 20 °C, [Pa·s]: a round figure, and its range. */
  readonly viscosityPaS: number
  readonly viscosityRangePaS: readonly [low: number, high: number]
}

/**
 * Round figures for fuels as sold.
 *
 * Source: from memory: grade specifications (ASTM D910, EN 228, ASTM D1655) for the densities, handbooks for the
 * viscosities; the density of avgas as in the check of [api-mpms-11.1]. Results that use one say so.
 */
export const fuelProperties: Readonly<Record<Fuel, FuelProperties>> = {
  avgas: {
    density15KgM3: 721,
    stdDensity15KgM3: 10,
    viscosityPaS: 0.5e-3,
    viscosityRangePaS: [0.4e-3, 0.6e-3],
  },
  mogas: {
    density15KgM3: 745,
    stdDensity15KgM3: 15,
    viscosityPaS: 0.55e-3,
    viscosityRangePaS: [0.4e-3, 0.7e-3],
  },
  'jet-a': {
    density15KgM3: 804,
    stdDensity15KgM3: 15,
    viscosityPaS: 1.6e-3,
    viscosityRangePaS: [1e-3, 2.4e-3],
  },
}

/** Volume of one drop of fuel from a fitting, [m³]: twenty per millilitre, common practice; real drops vary twofold. */
export const dropM3 = 0.05e-6

export function isLiquid(medium: Medium): medium is Fuel {
  return medium === 'avgas' || medium === 'mogas' || medium === 'jet-a'
}
