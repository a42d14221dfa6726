import { bendOf, type Lag, type LiquidRows, unknowns } from './liquid-columns.ts'
import type { LiquidBeliefs } from './liquid-prior.ts'
import type { Stroke } from './liquid-strokes.ts'

/** Shares of air that are told apart. */
export const airSteps = 20
/** Yields within this ratio share one size of what the thermometer's noise does to the pressure. */
const noiseRatio = 1.35
/** Step of ln(yield): finer than a stroke can tell, or than the response to temperature can where there is none. */
export const yieldStepStroked = 0.015
const yieldStep = 0.05
/** A yield this much less likely by the strokes alone is not tried. */
const hopeless = 30
/** Share of what yields beyond the liquid that may go on yielding slowly: hose creep, air going into solution. */
const creepShare = 0.1
/** A thermometer on the outside of one place sees rather less than the fuel of the whole line, seldom more. Own figures. */
const gainMean = 1.05
const gainStd = 0.16
/** Share of the heat of a push that is still there when its mark's surroundings are left, and its spread. */
const strokeHeatLeft = 0.85
const strokeHeatStd = 0.2

/** One yield that is believed in. */
export interface LiquidNode {
  readonly compliancePerPa: number
  readonly logWeight: number
  /** Share of air in steps, at which the pressure is straightened. */
  readonly airStep: number
  /** Rung of what the thermometer's noise does to the pressure, and that in pascal for each kelvin. */
  readonly noiseStep: number
  readonly noisePaPerK: number
  readonly airShare: number
}

/** Normal beliefs in pascal, in the order of `columnIndex`. */
export interface LiquidPriors {
  readonly precision: readonly number[]
  readonly pull: readonly number[]
  readonly squares: number
  readonly logDeterminant: number
}

/** The yields that are believed in, with what the strokes say of each. */
export function liquidNodes(
  rows: LiquidRows,
  beliefs: LiquidBeliefs,
  strokes: readonly Stroke[],
): LiquidNode[] {
  const finest = strokes.length > 0 ? yieldStepStroked : yieldStep
  const nodes = beliefs.families.flatMap((family) => {
    const steps = Math.max(1, Math.ceil(Math.log(family.highPerPa / family.lowPerPa) / finest))
    return Array.from({ length: steps + 1 }, (_, k) => {
      const compliancePerPa = family.lowPerPa * (family.highPerPa / family.lowPerPa) ** (k / steps)
      const airShare = family.airShare * Math.max(0, 1 - beliefs.leastYieldPerPa / compliancePerPa)
      const heatShare = beliefs.heatPerPa / compliancePerPa
      const told = strokes.reduce(
        (sum, stroke) => sum + logStroke(stroke, rows, compliancePerPa, airShare, heatShare),
        0,
      )
      const noiseStep = Math.round(Math.log(compliancePerPa / beliefs.leastYieldPerPa) / Math.log(noiseRatio))
      return {
        compliancePerPa,
        airStep: Math.round(airShare * airSteps),
        noiseStep,
        noisePaPerK: beliefs.expansionPerK / (beliefs.leastYieldPerPa * noiseRatio ** noiseStep),
        logWeight: Math.log(family.weight / (steps + 1)) + told,
        told,
        airShare,
      }
    })
  })
  const most = nodes.reduce((best, node) => Math.max(best, node.told), Number.NEGATIVE_INFINITY)
  return nodes.filter((node) => node.told > most - hopeless)
}

function logStroke(
  stroke: Stroke,
  rows: LiquidRows,
  compliancePerPa: number,
  airShare: number,
  heatShare: number,
): number {
  const outsidePa = rows.testPa - rows.testGaugePa
  const straight = (gaugePa: number) => gaugePa - airShare * bendOf(gaugePa + outsidePa, rows.testPa)
  const moved = straight(stroke.afterPa) - straight(stroke.beforePa)
  const expected = (stroke.volumeM3 / (rows.volumeM3 * compliancePerPa)) * (1 + strokeHeatLeft * heatShare)
  const std = Math.hypot(
    stroke.stdPa,
    (expected * stroke.stdM3) / stroke.volumeM3,
    expected * strokeHeatStd * heatShare,
  )
  return -0.5 * ((moved - expected) / std) ** 2 - Math.log(std)
}

/** Beliefs in the unknowns for one yield and lag. */
export function liquidPriors(
  { compliancePerPa, airShare }: LiquidNode,
  { reachS }: Lag,
  rows: LiquidRows,
  beliefs: LiquidBeliefs,
): LiquidPriors {
  const beyond = Math.max(0, compliancePerPa - beliefs.leastYieldPerPa)
  const gauge = Math.abs(rows.testGaugePa)
  const airHeat = airShare * (2 / 7) * gauge
  const perM3 = 1 / (rows.volumeM3 * compliancePerPa)
  const perK = beliefs.expansionPerK / compliancePerPa
  const gain = Math.hypot(beliefs.stdExpansionPerK / beliefs.expansionPerK, gainStd)
  const mean = [
    0,
    (0.3 * beliefs.fullHeat) / compliancePerPa,
    gainMean * perK,
    0,
    0,
    perM3,
    0,
    (0.1 * beliefs.fullHeat) / compliancePerPa,
  ]
  const std = [
    10 * gauge,
    // and the fuel may start warmer or colder than its wall
    (0.5 * beliefs.fullHeat + 0.3 * swingK(rows) * beliefs.expansionPerK) / compliancePerPa + 0.3 * airHeat,
    gain * perK,
    // wide: ten times the test pressure in the hold
    (10 * gauge) / rows.statedHoldS,
    (creepShare * beyond * gauge) / compliancePerPa + 1e-3,
    // free: what the strokes tell of the yield is counted once, with the yields
    perM3,
    0.6 * reachS * perK * 0.5,
    // a thick line keeps a part of it for longer
    (0.3 * beliefs.fullHeat + 0.2 * swingK(rows) * beliefs.expansionPerK) / compliancePerPa + 0.1 * airHeat,
  ]
  if (std.length !== unknowns) throw new RangeError('one belief for each unknown')
  const precision = std.map((s) => 1 / (s * s))
  return {
    precision,
    pull: mean.map((m, i) => m * precision[i]),
    squares: mean.reduce((sum, m, i) => sum + m * m * precision[i], 0),
    logDeterminant: std.reduce((sum, s) => sum + 2 * Math.log(s), 0),
  }
}

/** How far the temperature went during the hold, [K]. */
export function swingK({ temperatureK }: LiquidRows): number {
  if (temperatureK === null) return 0.1
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const t of temperatureK) {
    low = Math.min(low, t)
    high = Math.max(high, t)
  }
  return high - low
}
