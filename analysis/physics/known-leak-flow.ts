import { gasConstant, gasViscosityPaS } from './ideal-gas.ts'

/**
 * Flow of air through a capillary, laminar and isothermal.
 *
 * ṅ = π·d⁴·(p₁² − p₂²)/(256·μ·L·R·T)
 *
 * @param boreM inside diameter, [m]
 * @param lengthM [m], many times the bore
 * @param highPa absolute, upstream, [Pa]
 * @param lowPa absolute, downstream, [Pa]
 * @param temperatureK [K]
 * @returns [mol/s]
 *
 * *Holds for* Reynolds numbers under some 1000 and bores above some 20 µm, where slip is under 1 %.
 * *Uncertainty* four times that of the bore: a bore known to 5 % gives the rate to 20 %, so a capillary is calibrated.
 * *Source* [white-fluid] Poiseuille flow of a gas whose density follows its pressure, from memory
 * *Check* 50 µm, 20 cm, 10 psi over an atmosphere, 20 °C: 0.219 scc/min; 150 µm, 5 cm, 1 psi: 5.47 scc/min (computed, μ 1.81e-5)
 */
export function capillaryMolPerS(
  boreM: number,
  lengthM: number,
  highPa: number,
  lowPa: number,
  temperatureK: number,
): number {
  const drive = highPa ** 2 - lowPa ** 2
  return (
    (Math.PI * boreM ** 4 * drive) /
    (256 * gasViscosityPaS('air', temperatureK) * lengthM * gasConstant * temperatureK)
  )
}

/** Flow of a bleed measured under water, with its uncertainty. */
export interface Displaced {
  readonly volumeM3: number
  readonly stdM3: number
  readonly seconds: number
  readonly temperatureK: number
  readonly atmospherePa: number
}

/** Uncertainty of stop watch and eye at both ends, [s], and of the thermometer in the water, [K]. Own figures. */
const handS = 1
const waterK = 0.5

/**
 * Rate of a bleed from the gas collected in a measuring cylinder over water.
 *
 * ṅ = (p_b − p_w)·V/(R·T·t): the gas in the cylinder is moist, and water vapor does not count.
 *
 * *Holds for* equal water levels inside and outside at the reading.
 * *Uncertainty* of volume, time and temperature, one standard deviation, to first order.
 * *Source* common practice; vapor pressure of water after Tetens, from memory
 * *Check* 10 mL in 600 s at 20 °C and 101325 Pa: 0.910 scc/min (computed)
 */
export function displacedMolPerS({ volumeM3, stdM3, seconds, temperatureK, atmospherePa }: Displaced): {
  value: number
  std: number
} {
  const celsius = temperatureK - 273.15
  const vaporPa = 610.78 * Math.exp((17.27 * celsius) / (celsius + 237.3))
  const value = ((atmospherePa - vaporPa) * volumeM3) / (gasConstant * temperatureK * seconds)
  const share = Math.hypot(stdM3 / volumeM3, (handS * Math.SQRT2) / seconds, waterK / temperatureK)
  return { value, std: share * value }
}
