import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import { fitOrNull } from '#analysis/fit/fit-beside-vessel.ts'
import { fullLine, strokesOf } from '#analysis/fit/full-line.ts'
import { afterStrokes, type GasHold } from '#analysis/fit/gas-rows.ts'
import { holdCurves, holdLeak, liquidScale } from '#analysis/fit/hold-leak.ts'
import { fullLineBeliefs } from '#analysis/fit/hold-model.ts'
import type { Reason } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { stdOf } from '#analysis/numeric/estimate.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { MeasuredSection } from '#analysis/signal/pressurised-bodies.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { FittedSection } from './fitted-section.ts'
import { meaningInHold, rawDrop } from './gas-finding.ts'
import { guardBanded } from './hold-verdict.ts'

/** Least temperature effect that is reported, as a share of the allowance. Own figure. */
const muchMoved = 0.5

/**
 * Finding for a section full of fuel: the leak in mL/min and as a drop, and the caution for a closed liquid-full line;
 * null if the rows carry no information.
 *
 * @param whole block averages of the hold; their rows serve liquids as well as gas
 * @param widen factor on the half-width of the interval, 1 or more (looks at a running hold)
 * @throws RangeError when the section's medium is not a liquid
 */
export function liquidFinding(
  { marks }: Pick<Recording, 'marks'>,
  stages: HoldStages,
  { section, signal, ...volume }: MeasuredSection,
  whole: GasHold,
  widen: number,
  quick: boolean,
): FittedSection | null {
  const { spec } = stages
  const { id, medium } = section
  if (!isLiquid(medium)) throw new RangeError(`${medium} is no liquid`)
  const holdS = stages.holdS as number
  const fromS = stages.pumpUpS ?? stages.settleS ?? 0
  const strokes = strokesOf(marks, signal.timeS, signal.gaugePa, fromS, stages.ventS ?? stages.endS)
  const hold = afterStrokes(whole, strokes, holdS)
  const line = fullLine(section, medium, hold.meanTemperatureK, spec.pressurePa)
  const fit = fitOrNull(hold.rows, fullLineBeliefs(hold, line, volume.volumeM3, spec, strokes), quick)
  if (fit === null) return null
  const scale = liquidScale(spec, volume, strokes.length > 0)
  const found = holdLeak(fit, hold, spec, id, scale, widen)
  const { leak, judged, allowance, allowed } = found
  const undecided = guardBanded(judged, allowed) === 'undecided'
  const begins = hold.middleS.findIndex((at) => at >= holdS)
  const movedPa = hold.testPa * rangeOf(fit.best.causes.subarray(Math.max(0, begins)))
  const reasons: Reason[] = []
  const caution = liquidCaution(section, spec, hold.meanTemperatureK)
  if (caution !== null) reasons.push(caution)
  if (spec.pressurePa < 0) reasons.push(reason('liquid-suction', { section: id }))
  if (undecided && strokes.length === 0) reasons.push(reason('liquid-stiffness-unknown', { section: id }))
  if (undecided && movedPa > muchMoved * allowance.drop_Pa)
    reasons.push(reason('liquid-temperature-moved', { section: id }))
  return {
    ...found,
    rawDropPa: rawDrop(hold, holdS),
    reasons,
    curves: holdCurves(hold, fit.best, id, holdS),
    byThermometer: () => holdCurves(hold, fit.byThermometer(), id, holdS),
    meaning: meaningInHold(
      { kind: 'liquid', m3PerS: (leak.mL_per_min?.value ?? 0) / 60e6 },
      hold,
      spec,
      section,
      leak,
    ),
    variance: {
      white: 0,
      walk: 0,
      lasting: (scale.relativeVolumeStd * judged.value) ** 2,
      whole: (stdOf(judged) / widen) ** 2,
    },
  }
}
