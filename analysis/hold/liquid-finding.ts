import type { HoldCurves, Reason } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Section } from '#analysis/model/system.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'
import type { GasHold } from './gas-rows.ts'
import type { HoldStages } from './hold-stages.ts'
import { guardBanded } from './hold-verdict.ts'
import { liquidCaution } from './liquid-caution.ts'
import { type LiquidFit, type LiquidRows, liquidFit } from './liquid-fit.ts'
import { liquidLeak } from './liquid-leak.ts'
import { isLiquid, liquidBeliefs } from './liquid-prior.ts'
import { strokesOf } from './liquid-strokes.ts'
import type { PressureSignal } from './pressure-signal.ts'
import type { SectionFinding } from './section-findings.ts'

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
const unknownWeatherPaPerS = 130 / 3600
/** Price of looking again and again, as a factor on the half-width. */
const liveWidening = 1.6

/** Volume under pressure: sections joined by open valves add up. */
export interface JoinedVolume {
  readonly volumeM3: number
  /** Half-width of the stated tolerance, [m³]. */
  readonly toleranceM3: number
}

/**
 * What a hold of a section full of fuel found: the leak in mL/min and as a drop, the verdict, and the caution that a closed
 * liquid-full line needs.
 *
 * @param hold block averages of it; their rows serve liquids as well as gas
 * @param signal its pressure, sample by sample, for the strokes
 * @throws RangeError when the section's medium is no liquid
 */
export function liquidFinding(
  recording: Recording,
  stages: HoldStages,
  section: Section,
  volume: JoinedVolume,
  hold: GasHold,
  signal: PressureSignal,
  live: boolean,
): SectionFinding {
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
  const rows = liquidRows(hold, stages, volume)
  const beliefs = liquidBeliefs(section, fuel, hold.meanTemperatureK, spec.pressurePa)
  const fit = liquidFit(rows, beliefs, strokes)
  // a stroke measures the stiffness itself: the stated volume then cancels
  const relativeVolumeStd = strokes.length > 0 ? 0 : volume.toleranceM3 / volume.volumeM3 / Math.sqrt(3)
  const { leak, allowance, judged, allowed } = liquidLeak(
    fit,
    section.id,
    spec.allow,
    relativeVolumeStd,
    live ? liveWidening : 1,
  )
  const verdict = guardBanded(judged, allowed)
  const reasons: Reason[] = []
  const caution = liquidCaution(section, spec, hold.meanTemperatureK)
  if (caution !== null) reasons.push(caution)
  if (verdict === 'undecided' && strokes.length === 0) reasons.push(stiffnessUnknown(section.id))
  const holdFromS = stages.holdS ?? 0
  const first = Math.max(
    0,
    hold.middleS.findIndex((t) => t >= holdFromS),
  )
  return {
    section: section.id,
    leak,
    allowance,
    rawDropPa: hold.gaugePa[first] - hold.gaugePa[hold.gaugePa.length - 1],
    verdict,
    voids: [],
    reasons,
    secondsMore: null,
    curves: [curvesOf(hold, rows, fit, section.id)],
  }
}

function stiffnessUnknown(section: string): Reason {
  return {
    code: 'liquid-stiffness-unknown',
    message:
      `${section}: how much pressure goes with a millilitre is not known well enough. ` +
      'Push a known volume in with a syringe while it settles and mark it: mark,kind=stroke volume_mL=0.5',
  }
}

function liquidRows(hold: GasHold, stages: HoldStages, volume: JoinedVolume): LiquidRows {
  const { spec } = stages
  return {
    timeS: hold.middleS,
    gaugePa: hold.gaugePa,
    absolutePa: hold.absolutePa,
    variancePa2: hold.rows.variance.map((v, i) => v * hold.absolutePa[i] ** 2),
    temperatureK: hold.temperatureK,
    testGaugePa: spec.pressurePa,
    testPa: hold.testPa,
    statedHoldS: spec.holdS,
    holdFromS: stages.holdS ?? hold.middleS[0],
    volumeM3: volume.volumeM3,
    unseenK: hold.unseenTemperatureK,
    unseenPa: hold.barometricPa === null ? unknownWeatherPaPerS * spec.holdS : 0,
  }
}

function curvesOf(hold: GasHold, rows: LiquidRows, fit: LiquidFit, section: string): HoldCurves {
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
    gaugePa: hold.gaugePa,
    compensatedPa,
    leakLinePa: compensatedPa.map((_, i) => offset + slope(i)),
    temperatureK: hold.temperatureK,
    barometricPa: hold.barometricPa,
  }
}
