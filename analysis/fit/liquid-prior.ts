import type { Medium, Section } from '#analysis/model/system.ts'
import { type Fuel, fuelProperties, isLiquid } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { netExpansionPerK, type TrappedLiquid, wallExpansionPerK } from '#analysis/physics/trapped-liquid.ts'
import {
  compressibilityPerPa,
  density60From,
  thermalExpansionPerK,
} from '#analysis/physics/volume-correction.ts'

/** Most of a line's volume that is believed to be air when it was filled with care. */
const mostAir = 0.05

/** Softest walls believed of a line whose stretch is not stated, [1/Pa]: a long rubber hose. Source: common practice */
const softestWallPerPa = 2e-8

/** Specific heat of fuels, [J/(kg·K)]. Source: from memory, common tables */
const specificHeat = 2100

/** How a full line may yield: by air in it, or by its walls. */
export interface YieldFamily {
  readonly weight: number
  /** Share of what yields beyond the liquid and the stated walls that is air. */
  readonly airShare: number
  /** Range of the relative volume that yields for each pascal, [1/Pa]; believed evenly in its logarithm. */
  readonly lowPerPa: number
  readonly highPerPa: number
}

/** What is believed of a section full of fuel before the hold. */
export interface LiquidBeliefs {
  readonly fuel: Fuel
  /** Yield of the liquid and the stated walls alone, [1/Pa]. */
  readonly leastYieldPerPa: number
  readonly families: readonly YieldFamily[]
  /** Net growth of the contents against the line, [1/K], and its standard uncertainty. */
  readonly expansionPerK: number
  readonly stdExpansionPerK: number
  /** Relative volume that the heat of a sudden compression takes up for each pascal, α²T/ρc, [1/Pa]: fuel alone. */
  readonly heatPerPa: number
  /** The same for the whole pump-up; it is given back as the heat goes. */
  readonly fullHeat: number
}

/**
 * Beliefs about a section full of fuel.
 *
 * The liquid's own figures are known to a few per cent; the air that stayed in it and walls of unstated stretch are not
 * known within powers of ten, and so the yield is left open between the liquid alone and much air or soft hose.
 *
 * @param section with its stretch where it is stated
 * @param fuel what it is full of
 * @param temperatureK mean over the hold, [K]
 * @param gaugePa stated test pressure, [Pa]
 */
export function liquidBeliefs(
  section: Pick<Section, 'stretchPerPa'>,
  fuel: Fuel,
  temperatureK: number,
  gaugePa: number,
): LiquidBeliefs {
  const properties = fuelProperties[fuel]
  const density60 = density60From(properties.density15KgM3, 288.15)
  const expansion = thermalExpansionPerK(density60, temperatureK)
  const compressibility = compressibilityPerPa(density60, temperatureK, Math.max(0, gaugePa))
  const absolutePa = gaugePa + standardAtmospherePa
  const stated = section.stretchPerPa
  const least = compressibility + Math.max(0, stated ?? 0)
  const lowPerPa = 0.93 * least
  const air = least + mostAir / absolutePa
  const hose = least + softestWallPerPa
  const families: YieldFamily[] =
    stated === null
      ? [
          { weight: 0.45, airShare: 1, lowPerPa, highPerPa: air },
          { weight: 0.1, airShare: 0.7, lowPerPa, highPerPa: 2 * hose },
          { weight: 0.15, airShare: 0.35, lowPerPa, highPerPa: 2 * hose },
          { weight: 0.3, airShare: 0, lowPerPa, highPerPa: hose },
        ]
      : [{ weight: 1, airShare: 1, lowPerPa, highPerPa: air }]
  // aluminium, steel or hose: the metal is not stated
  const wallMean = wallExpansionPerK.stainless
  const heatPerPa = (expansion * expansion * temperatureK) / (properties.density15KgM3 * specificHeat)
  return {
    fuel,
    leastYieldPerPa: least,
    families,
    expansionPerK: expansion - wallMean,
    stdExpansionPerK: Math.hypot(0.03 * expansion, 2e-5),
    heatPerPa,
    fullHeat: heatPerPa * Math.abs(gaugePa),
  }
}

export interface LiquidPrior {
  /** Rise for each kelvin, [Pa/K]. */
  readonly dpPerK: {
    readonly value: number
    readonly std: number
    readonly low: number
    readonly high: number
  }
  /** Fall for each cubic metre lost, [Pa/m³]. */
  readonly dpPerM3: {
    readonly value: number
    readonly std: number
    readonly low: number
    readonly high: number
  }
}

/**
 * The beliefs as figures to show: what a kelvin and what a lost volume do to a section full of fuel.
 *
 * `value` is for the middle of the believed yields (in the logarithm), `low` and `high` for their ends: they lie powers of
 * ten apart until a stroke or the temperature tells.
 *
 * @throws RangeError for a medium that is no liquid
 */
export function liquidPrior(
  section: Pick<Section, 'stretchPerPa' | 'volumeM3'>,
  medium: Medium,
  temperatureK: number,
  gaugePa: number,
): LiquidPrior {
  if (!isLiquid(medium)) throw new RangeError(`${medium} is no liquid`)
  const beliefs = liquidBeliefs(section, medium, temperatureK, gaugePa)
  const lowYield = beliefs.leastYieldPerPa
  const highYield = Math.max(...beliefs.families.map((family) => family.highPerPa))
  const middle = Math.sqrt(lowYield * highYield)
  const range = (numerator: number) => {
    const [low, high] = [numerator / highYield, numerator / lowYield]
    return { value: numerator / middle, std: (high - low) / Math.sqrt(12), low, high }
  }
  return { dpPerK: range(beliefs.expansionPerK), dpPerM3: range(1 / section.volumeM3) }
}

/** Steepest rise for each kelvin that a closed section full of fuel can show: no air, walls as stated, [Pa/K]. */
export function steepestPaPerK(
  section: Pick<Section, 'stretchPerPa'>,
  fuel: Fuel,
  temperatureK: number,
  gaugePa: number,
): number {
  const beliefs = liquidBeliefs(section, fuel, temperatureK, gaugePa)
  const line: TrappedLiquid = {
    expansionPerK: beliefs.expansionPerK + wallExpansionPerK.stainless,
    compressibilityPerPa: beliefs.leastYieldPerPa,
    wallExpansionPerK: wallExpansionPerK.steel,
    wallStretchPerPa: 0,
    airShare: 0,
    absolutePa: gaugePa + standardAtmospherePa,
    temperatureK,
  }
  return netExpansionPerK(line) / line.compressibilityPerPa
}
