import type { Section } from '#analysis/model/system.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { type Fuel, fuelProperties } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import {
  compressibilityPerPa,
  density60From,
  thermalExpansionPerK,
} from '#analysis/physics/volume-correction.ts'
import { constants, coordinate, type HoldConstants } from './hold-constants.ts'
import type { Stroke } from './liquid-strokes.ts'

/** Volumetric expansion of line metals, three times the linear one, [1/K]. Source: from memory, common tables */
export const wallExpansionPerK = { aluminium: 3 * 23.6e-6, steel: 3 * 12e-6, stainless: 3 * 17e-6 } as const

/** Specific heat of fuels, [J/(kg·K)]. Source: from memory, common tables */
const specificHeat = 2100

/** What a line full of fuel does by the tables and by its file. */
export interface FullLine {
  /** Relative volume that the liquid and the stated walls alone yield for each pascal, [1/Pa]. */
  readonly leastYieldPerPa: number
  readonly stretchStated: boolean
  /** Net growth of the contents against the line, [1/K]. */
  readonly expansionPerK: number
  /** Relative volume that the heat of a sudden compression takes up for each pascal, α²T/ρc, [1/Pa]: fuel alone. */
  readonly heatPerPa: number
}

/**
 * A section full of fuel.
 *
 * The liquid's own figures are known to a few per cent; the air that stayed in it and walls of unstated stretch are not
 * known within powers of ten, and so the yield is left open between the liquid alone and much air or soft hose.
 *
 * @param temperatureK mean over the hold, [K]
 * @param gaugePa stated test pressure, [Pa]
 */
export function fullLine(
  { stretchPerPa }: Pick<Section, 'stretchPerPa'>,
  fuel: Fuel,
  temperatureK: number,
  gaugePa: number,
): FullLine {
  const { density15KgM3 } = fuelProperties[fuel]
  const density60 = density60From(density15KgM3, 288.15)
  const expansion = thermalExpansionPerK(density60, temperatureK)
  return {
    leastYieldPerPa:
      compressibilityPerPa(density60, temperatureK, Math.max(0, gaugePa)) + Math.max(0, stretchPerPa ?? 0),
    stretchStated: stretchPerPa !== null,
    // aluminium, steel or hose: the metal is not stated
    expansionPerK: expansion - wallExpansionPerK.stainless,
    heatPerPa: (expansion * expansion * temperatureK) / (density15KgM3 * specificHeat),
  }
}

/** Middle of the yields that are believed, in the logarithm, where no stroke and no temperature tells, [1/Pa]. */
export function middleYieldPerPa({ leastYieldPerPa }: FullLine, gaugePa: number): number {
  return Math.sqrt(leastYieldPerPa * (leastYieldPerPa + constants.mostAir / (gaugePa + standardAtmospherePa)))
}

/** Steepest rise for each kelvin that a closed section full of fuel can show: no air, walls of steel as stated, [Pa/K]. */
export function steepestPaPerK(
  section: Pick<Section, 'stretchPerPa'>,
  fuel: Fuel,
  temperatureK: number,
  gaugePa: number,
): number {
  const { expansionPerK, leastYieldPerPa } = fullLine(section, fuel, temperatureK, gaugePa)
  return (expansionPerK + wallExpansionPerK.stainless - wallExpansionPerK.steel) / leastYieldPerPa
}

/** A full line in one hold. */
export interface HeldLine extends FullLine {
  readonly volumeM3: number
  readonly testPa: number
  readonly testGaugePa: number
  /** Strokes of known volume: they measure the yield. */
  readonly strokes: readonly Stroke[]
  /** When strokes moved the pressure within the rows of the fit, [s] from their begin. */
  readonly strokeS: readonly number[]
  /** Change over the hold that the thermometer could miss, as ln T, and drop by unmeasured weather. */
  readonly unseenLog: number
  readonly unseenWeatherStd: number
}

/** How much of a full line yields for each pascal, [1/Pa], and the share of it that is air. */
export interface Yield {
  readonly yieldPerPa: number
  readonly airShare: number
}

/** The yield that a point of the beliefs stands for: about what the strokes measured; without one anything, evenly in the logarithm. */
export function yieldAt(u: Float64Array, line: HeldLine, c: HoldConstants): Yield {
  const { leastYieldPerPa, testPa, stretchStated } = line
  const air = stretchStated ? 1 : normalCdf(c.airSpread * u[coordinate.air] + c.airMiddle)
  const low = c.leastYield * leastYieldPerPa
  const withAir = (yieldPerPa: number): Yield => ({
    yieldPerPa,
    airShare: air * Math.max(0, 1 - leastYieldPerPa / yieldPerPa),
  })
  if (line.strokes.length === 0) {
    const high = leastYieldPerPa + (air * c.mostAir) / testPa + (1 - air) * c.softestWallPerPa
    return withAir(low * (high / low) ** normalCdf(u[coordinate.yield]))
  }
  let { airShare } = withAir(Number.POSITIVE_INFINITY)
  // The share of air bends the pressure that the yield is read from, and follows from it.
  for (let round = 0; ; round++) {
    const { log, std } = strokedYield(line, airShare, c)
    if (round === 2) return withAir(Math.max(low, Math.exp(log + std * u[coordinate.yield])))
    airShare = withAir(Math.exp(log)).airShare
  }
}

/** ln of the yield that strokes measure, and its standard uncertainty: moved·V·y = ΔV·(1 + left·heat/y). */
function strokedYield(line: HeldLine, airShare: number, c: HoldConstants): { log: number; std: number } {
  const [left, leftStd] = c.strokeHeatLeft
  let sum = 0
  let precision = 0
  for (const { beforePa, afterPa, volumeM3, stdPa, stdM3 } of line.strokes) {
    const moved = straight(afterPa, line, airShare) - straight(beforePa, line, airShare)
    const perM3 = (moved * line.volumeM3) / volumeM3
    const own = (1 + Math.sqrt(1 + 4 * left * line.heatPerPa * perM3)) / (2 * perM3)
    const std = Math.hypot(stdPa / moved, stdM3 / volumeM3, (leftStd * line.heatPerPa) / own)
    sum += Math.log(own) / std ** 2
    precision += 1 / std ** 2
  }
  return { log: sum / precision, std: 1 / Math.sqrt(precision) }
}

/** A gauge pressure made straight in the volume, [Pa] from the test pressure P: d − a·d²/p with d = p − P, where a share a of the yield is air. */
export function straight(
  gaugePa: number,
  { testPa, testGaugePa }: Pick<HeldLine, 'testPa' | 'testGaugePa'>,
  airShare: number,
): number {
  const over = gaugePa - testGaugePa
  return over - (airShare * over ** 2) / (over + testPa)
}

/** The gauge pressure that `straight` made straight, [Pa]. */
export function bent(
  straightPa: number,
  { testPa, testGaugePa }: Pick<HeldLine, 'testPa' | 'testGaugePa'>,
  airShare: number,
): number {
  const half = testPa - straightPa
  return (
    testGaugePa +
    (2 * straightPa * testPa) / (half + Math.sqrt(half ** 2 + 4 * (1 - airShare) * straightPa * testPa))
  )
}
