import { gasConstant } from './ideal-gas.ts'

/** A volume that grows in proportion to its gauge pressure: V = V₀(1 + κ(p − p_b)). */
export interface ElasticVolume {
  /** V₀, at no gauge pressure, [m³]. */
  readonly volumeM3: number
  /** κ, [1/Pa]. */
  readonly stretchPerPa: number
}

/** Volume at a pressure, [m³]. */
export function volumeAt(
  { volumeM3, stretchPerPa }: ElasticVolume,
  insidePa: number,
  outsidePa: number,
): number {
  return volumeM3 * (1 + stretchPerPa * (insidePa - outsidePa))
}

/**
 * Gas that a rise of one pascal takes: dn/dp = (V₀/RT)(1 + κ(2p − p_b)).
 *
 * @param insidePa absolute, [Pa]
 * @param outsidePa absolute, [Pa]
 * @param temperatureK [K]
 * @returns [mol/Pa]
 * Check: leaving κ out under-reports a leak by V/(V + pC): V₀ 50 L, 101.325 kPa, C 0.05 L/kPa, 121.325 kPa → 0.893698
 * (computed)
 */
export function molPerPa(
  { volumeM3, stretchPerPa }: ElasticVolume,
  insidePa: number,
  outsidePa: number,
  temperatureK: number,
): number {
  return (volumeM3 / (gasConstant * temperatureK)) * (1 + stretchPerPa * (2 * insidePa - outsidePa))
}

/**
 * Unknown volume from a known injection: V = p ΔV/Δp, isothermal, the injected gas first at the section's pressure.
 *
 * @param strokeM3 volume pushed in, [m³]
 * @param riseDifferencePa rise of the pressure, [Pa], > 0
 * @param absolutePa pressure before, absolute, [Pa]
 * @param stdStrokeM3 standard uncertainty of the stroke, [m³]
 * @param stdRisePa standard uncertainty of the rise, [Pa]
 * @returns the volume and its standard uncertainty, [m³]; for a volume that breathes it is the effective one, V + pC
 * @throws RangeError when nothing rose
 * Check: 100 mL, 0.300 kPa at 101.325 kPa → 33.775 L, u 1.60 L (computed)
 */
export function volumeByInjection(
  strokeM3: number,
  riseDifferencePa: number,
  absolutePa: number,
  stdStrokeM3: number,
  stdRisePa: number,
): { readonly volumeM3: number; readonly stdM3: number } {
  if (!(riseDifferencePa > 0)) throw new RangeError('an injection that raised nothing measures no volume')
  const volumeM3 = (absolutePa * strokeM3) / riseDifferencePa
  return {
    volumeM3,
    stdM3: volumeM3 * Math.hypot(stdStrokeM3 / strokeM3, stdRisePa / riseDifferencePa),
  }
}
