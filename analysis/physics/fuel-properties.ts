import type { Medium } from '#analysis/model/system.ts'
import { density60From, volumeCorrection } from '#analysis/physics/volume-correction.ts'

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

const kelvin15C = 288.15

/**
 * Density of a fuel at its temperature: the measured density, corrected by the expansion of refined products, else the
 * round figure of the grade with the spread of fuel as sold.
 *
 * @param temperatureK of the fuel, [K]
 * @param measured density with the temperature of its measurement; null when not measured
 * Source: [api-mpms-11.1]; figures of the grades from memory (see fuel-properties)
 * Check: avgas of 721 kg/m³ at 15 °C is 721 there (identity), 1.27531e-3 /K less a kelvin above (computed)
 */
export function fuelDensity(
  fuel: Fuel,
  temperatureK: number,
  measured: { readonly densityKgM3: number; readonly stdKgM3: number; readonly temperatureK: number } | null,
) {
  const grade = fuelProperties[fuel]
  const known = measured?.densityKgM3 ?? grade.density15KgM3
  const density60 = density60From(known, measured?.temperatureK ?? kelvin15C)
  const densityKgM3 = density60 * volumeCorrection(density60, temperatureK, 0).ctl
  return {
    densityKgM3,
    stdDensityKgM3: ((measured?.stdKgM3 ?? grade.stdDensity15KgM3) * densityKgM3) / known,
    /** Measured here, or the round figure of the grade. */
    source: measured ? ('measured' as const) : ('grade' as const),
  }
}

/** Standard acceleration of free fall, [m/s²]: NIST SP 811, exact. */
const standardGravityMPerS2 = 9.80665

/**
 * Pressure of standing fuel, p = ρ g h.
 *
 * @param headM height of the free surface above the fitting, [m]
 * @returns [Pa]
 * *Check*: 721 kg/m³, 1 m → 7070.595 Pa = 1.0255 psi (computed)
 */
export function headPressurePa(densityKgM3: number, headM: number): number {
  return densityKgM3 * standardGravityMPerS2 * headM
}

/**
 * Mass from a scale's reading: the buoyancy of air on fuel exceeds that on the scale's steel weights.
 *
 * m = W (1 − ρ_air/8000)/(1 − ρ_air/ρ)
 *
 * @param shownKg reading of the scale, [kg]
 * *Source*: common practice, conventional mass with ρ_air 1.2 and weights of 8000 kg/m³ (OIML D 28, from memory)
 * *Check*: 10 kg shown of 721 kg/m³ → 10.015171 kg (computed)
 */
export function massFromScale(shownKg: number, densityKgM3: number): number {
  const airKgM3 = 1.2
  return (shownKg * (1 - airKgM3 / 8000)) / (1 - airKgM3 / densityKgM3)
}
