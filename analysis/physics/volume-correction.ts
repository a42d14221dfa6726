import { fromUnit, toUnit } from './units.ts'

/** Shift of 60 °F between the 1990 and 1968 temperature scales, [°F]. */
const DELTA_60 = 0.01374979547
/** 60 °F of the 1990 scale on the 1968 scale, [°F]. */
const BASE_F = 60.0068749
/** Difference between the 1990 and 1968 scales, coefficients of t/630 °C. */
const SCALE = [-0.148759, -0.267408, 1.08076, 1.269056, -4.089591, -1.871251, 7.438081, -3.536296]

/** Expansion constants K₀, K₁, K₂ of refined products by density at 60 °F. */
function expansionConstants(density60: number): readonly [number, number, number] {
  if (!(density60 >= 610.6 && density60 <= 1163.5)) {
    throw new RangeError(`no refined product has a density of ${density60} kg/m³ at 60 °F`)
  }
  if (density60 < 770.352) return [192.4571, 0.2438, 0]
  if (density60 < 787.5195) return [1489.067, 0, -0.0018684]
  if (density60 < 838.3127) return [330.301, 0, 0]
  return [103.872, 0.2701, 0]
}

/** Degrees Fahrenheit of the 1968 scale, on which the tables were fitted. */
function fahrenheit1968(temperatureK: number): number {
  const celsius = temperatureK - 273.15
  const share = celsius / 630
  const shift = SCALE.reduceRight((total, coefficient) => (total + coefficient) * share, 0)
  return 1.8 * (celsius - shift) + 32
}

/** Density at 60 °F moved to the 1968 scale, and the expansion there, [1/°F]. */
function shiftedBase(density60: number): { readonly density: number; readonly expansionPerF: number } {
  const [k0, k1, k2] = expansionConstants(density60)
  const a = (DELTA_60 / 2) * ((k0 / density60 + k1) / density60 + k2)
  const b = (2 * k0 + k1 * density60) / (k0 + (k1 + k2 * density60) * density60)
  const density = density60 * (1 + Math.expm1(a * (1 + 0.8 * a)) / (1 + a * (1 + 1.6 * a) * b))
  return { density, expansionPerF: (k0 / density + k1) / density + k2 }
}

/** Compressibility factor F_P, per 10⁵ psi. */
function compressibilityFactor(density: number, fahrenheit: number): number {
  return Math.exp(-1.9947 + 0.00013427 * fahrenheit + (793920 + 2326 * fahrenheit) / (density * density))
}

/**
 * Factors that correct a volume of a refined product to 60 °F (CTL) and to zero gauge pressure (CPL).
 *
 * @param density60KgM3 density at 60 °F, [kg/m³], 610.6 to 1163.5
 * @param temperatureK [K], −45 °C to 150 °C
 * @param gaugePa [Pa], 0 to 10.3 MPa
 * @throws RangeError for a density no refined product has
 *
 * Source: [api-mpms-11.1] 11.1.6.1
 * Check: jet 85 °F, 247.3 psig, RD 0.7943 → CTL 0.986832406683, CPL 1.001646525013; gasoline 27.3 °F, 1234.5 psig,
 * 657.3 kg/m³ → 1.026475833518, 1.012417396817
 */
export function volumeCorrection(
  density60KgM3: number,
  temperatureK: number,
  gaugePa: number,
): { readonly ctl: number; readonly cpl: number } {
  const { density, expansionPerF } = shiftedBase(density60KgM3)
  const fahrenheit = fahrenheit1968(temperatureK)
  const warmer = fahrenheit - BASE_F
  const ctl = Math.exp(-expansionPerF * warmer * (1 + 0.8 * expansionPerF * (warmer + DELTA_60)))
  const factor = compressibilityFactor(density, fahrenheit)
  return { ctl, cpl: 1 / (1 - 1e-5 * factor * toUnit(gaugePa, 'psi')) }
}

/** Density at 60 °F of a product whose density is known at another temperature and zero gauge pressure, [kg/m³]. */
export function density60From(densityKgM3: number, temperatureK: number): number {
  // a warm light product has a lower density than the table's lightest at 60 °F: begin inside the table
  let density60 = Math.min(1163.5, Math.max(610.6, densityKgM3))
  // the factor hardly depends on the density: a few steps converge to the last digit
  for (let i = 0; i < 50; i++) {
    const next = densityKgM3 / volumeCorrection(density60, temperatureK, 0).ctl
    if (Math.abs(next - density60) < 1e-12 * next) return next
    density60 = next
  }
  return density60
}

/**
 * Thermal expansion −d ln(CTL)/dT of a refined product.
 *
 * @param density60KgM3 density at 60 °F, [kg/m³]
 * @param temperatureK [K]
 * @returns [1/K]
 * Source: [api-mpms-11.1], differentiated
 * Check: 721 kg/m³ at 15 °C → 1.27531e-3 /K (computed)
 */
export function thermalExpansionPerK(density60KgM3: number, temperatureK: number): number {
  const halfWidth = 0.01
  const log = (kelvin: number) => Math.log(volumeCorrection(density60KgM3, kelvin, 0).ctl)
  return (log(temperatureK - halfWidth) - log(temperatureK + halfWidth)) / (2 * halfWidth)
}

/**
 * Isothermal compressibility of a refined product.
 *
 * @param density60KgM3 density at 60 °F, [kg/m³]
 * @param temperatureK [K]
 * @param gaugePa [Pa]
 * @returns [1/Pa]
 * Source: [api-mpms-11.1], differentiated
 * Check: 721 kg/m³ at 15 °C → 1.19582e-9 /Pa (computed)
 */
export function compressibilityPerPa(density60KgM3: number, temperatureK: number, gaugePa: number): number {
  const { density } = shiftedBase(density60KgM3)
  const perPsi = 1e-5 * compressibilityFactor(density, fahrenheit1968(temperatureK))
  // V ∝ 1 − F p: −dV/(V dp) = F/(1 − F p)
  return perPsi / (1 - perPsi * toUnit(gaugePa, 'psi')) / fromUnit(1, 'psi')
}
