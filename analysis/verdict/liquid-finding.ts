import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import type { GasHold } from '#analysis/fit/gas-rows.ts'
import type { LiquidRows } from '#analysis/fit/liquid-columns.ts'
import { type LiquidFit, liquidFit } from '#analysis/fit/liquid-fit.ts'
import { liquidLeak } from '#analysis/fit/liquid-leak.ts'
import { liquidBeliefs } from '#analysis/fit/liquid-prior.ts'
import { liquidHold } from '#analysis/fit/liquid-rows.ts'
import { strokesOf } from '#analysis/fit/liquid-strokes.ts'
import type { HoldCurves, Reason } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Section, System } from '#analysis/model/system.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { type Fuel, isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { FittedSection } from './fitted-section.ts'
import { guardBanded } from './hold-verdict.ts'
import { meaningOf } from './meaning.ts'

/** Volume under pressure: sections joined by open valves add up. */
export interface JoinedVolume {
  readonly volumeM3: number
  /** Half-width of the stated tolerance, [m³]. */
  readonly toleranceM3: number
  /** Their ids; the section alone when left out. */
  readonly joined?: readonly string[]
}

/**
 * What a hold of a section full of fuel found: the leak in mL/min and as a drop, and the caution that a closed liquid-full
 * line needs.
 *
 * @param hold block averages of it; their rows serve liquids as well as gas
 * @param signal its pressure, sample by sample, for the strokes
 * @param widen factor on the half-width of the interval, 1 or more (looks at a running hold)
 * @throws RangeError when the section's medium is no liquid
 */
export function liquidFinding(
  recording: Recording,
  system: System,
  stages: HoldStages,
  section: Section,
  volume: JoinedVolume,
  hold: GasHold,
  signal: PressureSignal,
  widen: number,
): FittedSection {
  const { spec } = stages
  if (!isLiquid(section.medium)) throw new RangeError(`${section.medium} is no liquid`)
  const fuel: Fuel = section.medium
  const untilS = stages.ventS ?? stages.endS
  const strokes = strokesOf(
    recording.marks,
    signal.timeS,
    signal.gaugePa,
    stages.pumpUpS ?? stages.settleS ?? 0,
    untilS,
  )
  const { rows, drawn } = liquidHold(
    recording,
    system,
    hold,
    stages,
    volume.joined ?? [section.id],
    volume.volumeM3,
    strokes,
  )
  const beliefs = liquidBeliefs(section, fuel, hold.meanTemperatureK, spec.pressurePa)
  const fit = liquidFit(rows, beliefs, strokes, drawn)
  // a stroke measures the stiffness itself: the stated volume then cancels
  const relativeVolumeStd = strokes.length > 0 ? 0 : volume.toleranceM3 / volume.volumeM3 / Math.sqrt(3)
  const holdFromS = stages.holdS ?? 0
  const first = Math.max(
    0,
    hold.middleS.findIndex((t) => t >= holdFromS),
  )
  const { leak, judged, allowance, allowed } = liquidLeak(fit, section.id, spec, relativeVolumeStd, widen)
  const swingPa = rangeOf(fit.best.otherPa.subarray(first))
  const undecided = guardBanded(judged, allowed) === 'undecided'
  const reasons: Reason[] = []
  const caution = liquidCaution(section, spec, hold.meanTemperatureK)
  if (caution !== null) reasons.push(caution)
  if (spec.pressurePa < 0) reasons.push(reason('liquid-suction', { section: section.id }))
  if (undecided && strokes.length === 0)
    reasons.push(reason('liquid-stiffness-unknown', { section: section.id }))
  if (undecided && swingPa > 0.5 * allowance.drop_Pa)
    reasons.push(reason('liquid-temperature-moved', { section: section.id }))
  const m3PerS = (leak.mL_per_min?.value ?? 0) / 60e6
  return {
    leak,
    allowance,
    judged,
    allowed,
    rawDropPa: hold.gaugePa[first] - hold.gaugePa[hold.gaugePa.length - 1],
    reasons,
    curves: curvesOf(hold, drawn, fit, section.id, holdFromS),
    meaning: meaningOf(
      { kind: 'liquid', m3PerS },
      {
        medium: section.medium,
        insidePa: hold.testPa,
        outsidePa: hold.meanBarometricPa,
        temperatureK: hold.meanTemperatureK,
        dropPa: leak.drop_Pa.value,
        holdS: spec.holdS,
      },
    ),
    variance: {
      white: 0,
      walk: 0,
      lasting: (relativeVolumeStd * judged.value) ** 2,
      whole: ((judged.high - judged.low) / (2 * z95 * widen)) ** 2,
    },
  }
}

function rangeOf(values: Float64Array): number {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const value of values) {
    low = Math.min(low, value)
    high = Math.max(high, value)
  }
  return Math.max(0, high - low)
}

function curvesOf(
  hold: GasHold,
  rows: LiquidRows,
  fit: LiquidFit,
  section: string,
  holdStartS: number,
): HoldCurves {
  const { otherPa, leakPaPerS } = fit.best
  const compensatedPa = hold.gaugePa.map((g, i) => g - (otherPa[i] - otherPa[0]))
  // the straight line through the middle of what is left after the fitted causes
  const n = compensatedPa.length
  const slope = (i: number) => -leakPaPerS * (rows.timeS[i] - rows.timeS[0])
  let offset = 0
  for (let i = 0; i < n; i++) offset += (compensatedPa[i] - slope(i)) / n
  return {
    section,
    timeS: hold.middleS,
    holdStartS,
    gaugePa: hold.gaugePa,
    compensatedPa,
    leakLinePa: compensatedPa.map((_, i) => offset + slope(i)),
    temperatureK: hold.temperatureK,
    barometricPa: hold.barometricPa,
  }
}
