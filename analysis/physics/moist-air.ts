/** Constants of the CIPM-2007 equation. Source: [cipm-2007] */
const R = 8.314472
const MOLAR_MASS_DRY = 28.96546e-3
const MOLAR_MASS_WATER = 18.01528e-3

/**
 * Pressure of saturated water vapour over water.
 *
 * @param temperatureK [K]
 * @returns [Pa]
 * Source: [cipm-2007] equation A1.1
 * Check: 2339 Pa at 20 °C, 1228 Pa at 10 °C (common tables)
 */
export function saturatedWaterPa(temperatureK: number): number {
  const T = temperatureK
  return Math.exp(1.2378847e-5 * T * T - 1.9121316e-2 * T + 33.93711047 - 6.3431645e3 / T)
}

/**
 * Density of moist air.
 *
 * @param absolutePa [Pa], 60 to 110 kPa
 * @param temperatureK [K], 15 to 27 °C for the stated uncertainty, usable well beside it
 * @param relativeHumidity 0 to 1
 * @returns [kg/m³]
 *
 * Uncertainty: 22 parts in a million of the equation itself
 * Source: [cipm-2007]
 * Check: 10 °C, 730 mmHg, 40 % → 1.1957 kg/m³
 */
export function moistAirDensityKgM3(
  absolutePa: number,
  temperatureK: number,
  relativeHumidity: number,
): number {
  const p = absolutePa
  const T = temperatureK
  const t = T - 273.15
  const enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t * t
  const x = (relativeHumidity * enhancement * saturatedWaterPa(T)) / p
  const first =
    1.58123e-6 -
    2.9331e-8 * t +
    1.1043e-10 * t * t +
    (5.707e-6 - 2.051e-8 * t) * x +
    (1.9898e-4 - 2.376e-6 * t) * x * x
  const compressibility = 1 - (p / T) * first + ((p * p) / (T * T)) * (1.83e-11 - 0.765e-8 * x * x)
  const molarMass = MOLAR_MASS_DRY * (1 - x * (1 - MOLAR_MASS_WATER / MOLAR_MASS_DRY))
  return (p * molarMass) / (compressibility * R * T)
}
