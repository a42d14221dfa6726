import type { Estimate, HoldCurves, Reason } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Section } from '#analysis/model/system.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'
import type { FittedSection } from './fitted-section.ts'
import type { GasHold } from './gas-rows.ts'
import type { HoldStages } from './hold-stages.ts'
import { guardBanded } from './hold-verdict.ts'
import { liquidCaution } from './liquid-caution.ts'
import { type LiquidFit, type LiquidRows, liquidFit } from './liquid-fit.ts'
import { type LiquidLeak, liquidLeak } from './liquid-leak.ts'
import { isLiquid, liquidBeliefs } from './liquid-prior.ts'
import { strokesOf } from './liquid-strokes.ts'
import { meaningOf } from './meaning.ts'
import type { PressureSignal } from './pressure-signal.ts'

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
const unknownWeatherPaPerS = 130 / 3600

const z95 = 1.959963984540054
/** Share of the thermal correction that counts as doubt, as a half-width. Own figure. */
const thermalDoubt = 0.15

/** Volume under pressure: sections joined by open valves add up. */
export interface JoinedVolume {
  readonly volumeM3: number
  /** Half-width of the stated tolerance, [m³]. */
  readonly toleranceM3: number
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
  const rows = liquidRows(hold, stages, volume)
  const beliefs = liquidBeliefs(section, fuel, hold.meanTemperatureK, spec.pressurePa)
  const fit = liquidFit(rows, beliefs, strokes)
  // a stroke measures the stiffness itself: the stated volume then cancels
  const relativeVolumeStd = strokes.length > 0 ? 0 : volume.toleranceM3 / volume.volumeM3 / Math.sqrt(3)
  const holdFromS = stages.holdS ?? 0
  const first = Math.max(
    0,
    hold.middleS.findIndex((t) => t >= holdFromS),
  )
  const found = liquidLeak(fit, section.id, spec.allow, relativeVolumeStd, widen)
  const swingPa = rangeOf(fit.best.otherPa.subarray(first))
  const { leak, judged } = distrusting(found, swingPa)
  const { allowance, allowed } = found
  const undecided = guardBanded(judged, allowed) === 'undecided'
  const reasons: Reason[] = []
  const caution = liquidCaution(section, spec, hold.meanTemperatureK)
  if (caution !== null) reasons.push(caution)
  if (undecided && strokes.length === 0) reasons.push(stiffnessUnknown(section.id))
  if (undecided && swingPa > 0.5 * allowance.drop_Pa) reasons.push(temperatureMoved(section.id))
  const m3PerS = (leak.mL_per_min?.value ?? 0) / 60e6
  return {
    leak,
    allowance,
    judged,
    allowed,
    rawDropPa: hold.gaugePa[first] - hold.gaugePa[hold.gaugePa.length - 1],
    reasons,
    curves: curvesOf(hold, rows, fit, section.id, holdFromS),
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

/**
 * The same leak with a share of the thermal correction as further uncertainty: in a swinging temperature the fit of a full
 * line was found off by up to that much on simulated holds, so a pass has to wait for a steadier one.
 */
function distrusting(found: LiquidLeak, swingPa: number): Pick<LiquidLeak, 'leak' | 'judged'> {
  const { leak, judged } = found
  const drop = widened(leak.drop_Pa, thermalDoubt * swingPa)
  // All units share one relative width of drop to flow.
  const perPa = found.allowance.drop_Pa > 0 ? found.allowed / found.allowance.drop_Pa : 0
  const mlPerPa =
    found.allowance.drop_Pa > 0 ? (found.allowance.mL_per_min ?? 0) / found.allowance.drop_Pa : 0
  return {
    leak: {
      ...leak,
      drop_Pa: drop,
      ...(leak.mL_per_min ? { mL_per_min: widened(leak.mL_per_min, thermalDoubt * swingPa * mlPerPa) } : {}),
    },
    judged: widened(judged, thermalDoubt * swingPa * perPa),
  }
}

function widened({ value, low, high }: Estimate, by: number): Estimate {
  return { value, low: value - Math.hypot(value - low, by), high: value + Math.hypot(high - value, by) }
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

function temperatureMoved(section: string): Reason {
  return {
    code: 'liquid-temperature-moved',
    message: `${section}: temperature moved the pressure by more than half the allowance, and in a full line that is not corrected to the last part: hold again when it is steadier.`,
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
