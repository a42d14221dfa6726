import type { Mark } from '#analysis/model/samples.ts'
import type { Section } from '#analysis/model/system.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { type Fuel, fuelProperties } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import {
  compressibilityPerPa,
  density60From,
  thermalExpansionPerK,
} from '#analysis/physics/volume-correction.ts'
import { constants, coordinate, type HoldConstants } from './hold-constants.ts'

/** Volumetric expansion of line metals, three times the linear one, [1/K]. Source: from memory, common tables */
export const wallExpansionPerK = { aluminium: 3 * 23.6e-6, steel: 3 * 12e-6, stainless: 3 * 17e-6 } as const

/** Specific heat of fuels, [J/(kg·K)]. Source: from memory, common tables */
const specificHeat = 2100

/**
 * Properties of a section full of fuel, from tables and the system file.
 *
 * The liquid's properties are known to a few per cent. Trapped air and walls of unstated stretch are uncertain by powers
 * of ten, so the yield is free between the liquid alone and much air or soft hose.
 *
 * @param temperatureK mean over the hold, [K]
 * @param gaugePa stated test pressure, [Pa]
 */
export function fullLine(
  { stretchPerPa }: Pick<Section, 'stretchPerPa'>,
  fuel: Fuel,
  temperatureK: number,
  gaugePa: number,
) {
  const { density15KgM3 } = fuelProperties[fuel]
  const density60 = density60From(density15KgM3, 288.15)
  const expansion = thermalExpansionPerK(density60, temperatureK)
  return {
    /** Relative volume change per pascal of the liquid and the stated walls alone, [1/Pa]. */
    leastYieldPerPa:
      compressibilityPerPa(density60, temperatureK, Math.max(0, gaugePa)) + Math.max(0, stretchPerPa ?? 0),
    stretchStated: stretchPerPa !== null,
    /** Net thermal expansion relative to the line, [1/K]: aluminium, steel or hose, the metal is not stated. */
    expansionPerK: expansion - wallExpansionPerK.stainless,
    /** Relative volume change per pascal from the heat of a sudden compression, α²T/ρc, [1/Pa]: fuel alone. */
    heatPerPa: (expansion * expansion * temperatureK) / (density15KgM3 * specificHeat),
  }
}

export type FullLine = Readonly<ReturnType<typeof fullLine>>

/** Middle of the prior of the yield in the logarithm, without data from strokes or temperature, [1/Pa]. */
export function middleYieldPerPa({ leastYieldPerPa }: FullLine, gaugePa: number): number {
  return Math.sqrt(leastYieldPerPa * (leastYieldPerPa + constants.mostAir / (gaugePa + standardAtmospherePa)))
}

/** Steepest pressure rise per kelvin of a closed section full of fuel: no air, walls of steel as stated, [Pa/K]. */
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
  /** Times of strokes within the rows of the fit, [s] from their start. */
  readonly strokeS: readonly number[]
  /** Undetected thermometer change over the hold, as ln T, and drop from unmeasured weather. */
  readonly unseenLog: number
  readonly unseenWeatherStd: number
}

/**
 * The yield per pascal at a point of the prior, [1/Pa], and the share of it due to air: near the value that strokes measured;
 * without a stroke uniform in the logarithm.
 */
export function yieldAt(u: Float64Array, line: HeldLine, c: HoldConstants) {
  const { leastYieldPerPa, testPa, stretchStated } = line
  const air = stretchStated ? 1 : normalCdf(c.airSpread * u[coordinate.air] + c.airMiddle)
  const low = c.leastYield * leastYieldPerPa
  const withAir = (yieldPerPa: number) => ({
    yieldPerPa,
    airShare: air * Math.max(0, 1 - leastYieldPerPa / yieldPerPa),
  })
  if (line.strokes.length === 0) {
    const high = leastYieldPerPa + (air * c.mostAir) / testPa + (1 - air) * c.softestWallPerPa
    return withAir(low * (high / low) ** normalCdf(u[coordinate.yield]))
  }
  let { airShare } = withAir(Number.POSITIVE_INFINITY)
  // The share of air bends the pressure from which the yield is computed, and depends on the yield.
  for (let round = 0; ; round++) {
    const { log, std } = strokedYield(line, airShare, c)
    if (round === 2) return withAir(Math.max(low, Math.exp(log + std * u[coordinate.yield])))
    airShare = withAir(Math.exp(log)).airShare
  }
}

/** ln of the yield measured by strokes, and its standard uncertainty: moved·V·y = ΔV·(1 + left·heat/y). */
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

/** A gauge pressure made linear in volume, [Pa] from the test pressure P: d − a·d²/p with d = p − P, where a share a of the yield is air. */
export function straight(
  gaugePa: number,
  { testPa, testGaugePa }: Pick<HeldLine, 'testPa' | 'testGaugePa'>,
  airShare: number,
): number {
  const over = gaugePa - testGaugePa
  return over - (airShare * over ** 2) / (over + testPa)
}

/** Inverse of `straight`: the gauge pressure, [Pa]. */
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

/** Longest time span used on either side, [s]. */
const lookS = 24
/** Time excluded around the mark: mark and push are never simultaneous, [s]. */
const handS = 2
/** Additional time excluded after it: compressed air is warm and raises the pressure until it cools, [s]. */
const airCoolsS = 4
/** Relative error of the rise from hand, eye and remaining cooling, one std. Own figure. */
const riseStd = 0.025
/** A syringe read by eye, as a share of its stroke, unless the mark states it. Source: common practice */
const relativeStd = 0.02

/** The pressure on one side, extrapolated to the mark along its own slope. */
function side(timeS: Float64Array, gaugePa: Float64Array, fromS: number, toS: number, markS: number) {
  const seen = timeS.map((at, i) => (at >= fromS && at <= toS && Number.isFinite(gaugePa[i]) ? 1 : 0))
  const beside = (column: Float64Array): Float64Array => column.filter((_, i) => seen[i] === 1)
  const t = beside(timeS)
  if (t.length < 4) return null
  const line = straightLine(t, beside(gaugePa))
  const apartS = markS - line.meanX
  return {
    atMark: line.meanY + line.slope * apartS,
    std: Math.hypot(line.stdResidual / Math.sqrt(t.length), line.stdSlope * apartS),
  }
}

/**
 * Reads the strokes of a recording: `mark,kind=stroke volume_mL=1.0`, with `std_mL` where it is known.
 *
 * @param marks of the recording
 * @param timeS times of the pressure samples, ascending, [s]
 * @param gaugePa pressures, same length
 * @param fromS earliest moment, after the last pumping, [s]
 * @param untilS latest, before the vent, [s]
 * @returns strokes that have samples on both sides and moved the pressure in their own direction
 */
export function strokesOf(
  marks: readonly Mark[],
  timeS: Float64Array,
  gaugePa: Float64Array,
  fromS: number,
  untilS: number,
) {
  const marked = marks.filter((mark) => mark.kind === 'stroke' && mark.timeS > fromS && mark.timeS < untilS)
  return marked.flatMap((mark, i) => {
    const millilitres = Number(mark.fields.volume_mL)
    if (!Number.isFinite(millilitres) || millilitres === 0) return []
    const previousS = i > 0 ? marked[i - 1].timeS + handS : fromS
    const nextS = i + 1 < marked.length ? marked[i + 1].timeS - handS : untilS
    const earliest = Math.max(fromS, previousS, mark.timeS - lookS)
    const latest = Math.min(untilS, nextS, mark.timeS + lookS)
    const before = side(timeS, gaugePa, earliest, mark.timeS - handS, mark.timeS)
    const after = side(timeS, gaugePa, mark.timeS + handS + airCoolsS, latest, mark.timeS)
    if (before === null || after === null) return []
    const stdPa = Math.hypot(before.std, after.std)
    const moved = after.atMark - before.atMark
    if (Math.sign(moved) !== Math.sign(millilitres) || Math.abs(moved) < 3 * stdPa) return []
    const stated = Number(mark.fields.std_mL)
    return [
      {
        /** Seconds from the recording's start. */
        timeS: mark.timeS,
        /** [m³], positive when pushed in. */
        volumeM3: millilitres * 1e-6,
        stdM3: (stated > 0 ? stated : relativeStd * Math.abs(millilitres)) * 1e-6,
        /** Gauge pressure just before and just after, [Pa]. */
        beforePa: before.atMark,
        afterPa: after.atMark,
        /** Standard uncertainty of their difference, [Pa]. */
        stdPa: Math.hypot(Math.max(stdPa, 1), riseStd * moved),
      },
    ]
  })
}

/** A known volume pushed into (or, negative, let out of) a section full of fuel, and the pressure response. */
export type Stroke = Readonly<ReturnType<typeof strokesOf>[number]>
