import { withBarometerHeard } from '#analysis/faults/barometer-heard.ts'
import { bars, type Faults, noFaults, voidHold } from '#analysis/faults/fault.ts'
import { gaugeView } from '#analysis/faults/gauge-view.ts'
import { gaugeFaults } from '#analysis/faults/hold-faults.ts'
import { leakChanged } from '#analysis/faults/leak-changed.ts'
import { temperatureFaults } from '#analysis/faults/temperature.ts'
import { type GasHold, gasHold } from '#analysis/fit/gas-rows.ts'
import type { RigStanding } from '#analysis/hunt/rig.ts'
import type {
  AllowanceFigures,
  Estimate,
  HoldCurves,
  HoldEvent,
  Meaning,
  Reason,
  SectionLeak,
  Verdict,
} from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Section, System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { MeasuredSection } from '#analysis/signal/pressurised-bodies.ts'
import type { HoldStages } from '#analysis/stages/hold-stages.ts'
import { lastUnderPressureS } from '#analysis/stages/under-pressure.ts'
import { eventsInHold } from './events-in-hold.ts'
import { gasFinding } from './gas-finding.ts'
import { guardBanded } from './hold-verdict.ts'
import { lessRig } from './less-rig.ts'
import { liquidFinding } from './liquid-finding.ts'
import { wideningOf } from './look-widening.ts'
import { timeToDecide } from './time-to-decide.ts'
import { verdictReason } from './verdict-reason.ts'

/**
 * A hold that lasted less than this share of its stated time does not pass, however narrow its interval: what is slow
 * (creep, drift, a leak that opens late) has not had its time. Own figure.
 */
const leastShareToPass = 0.25
/** Nor does one shorter than this, whatever was stated, [s]. Own figure. */
const leastToPassS = 10

/** Shortest hold that may pass, [s]. */
export function leastToPassSeconds(statedS: number): number {
  return Math.max(leastToPassS, leastShareToPass * statedS)
}

function holdTooShort(section: string, elapsedS: number, statedS: number): Reason {
  return reason('hold-too-short', {
    section,
    seconds: elapsedS,
    stated_s: statedS,
    least_s: leastToPassS,
  })
}

/** What was found of one measured section of a hold. */
export interface SectionFinding {
  readonly section: string
  readonly leak: SectionLeak | null
  readonly allowance: AllowanceFigures | null
  readonly rawDropPa: number | null
  readonly verdict: Verdict
  readonly reasons: readonly Reason[]
  readonly secondsMore: number | null
  readonly curves: readonly HoldCurves[]
  readonly events: readonly HoldEvent[]
  readonly meaning: (Meaning & { readonly section: string }) | null
}

const z95 = 1.959963984540054
/** A rise above this share of the allowance, by so many standard errors, is no noise. */
const risenShare = 0.05
const risenErrors = 3

/** Everything one section's gauge tells of a hold: its faults, its fit, its verdict. */
export function sectionFinding(
  whole: Recording,
  system: System,
  stages: HoldStages,
  measured: MeasuredSection,
  rig: RigStanding | null,
  live: boolean,
): SectionFinding {
  const { section, joined } = measured
  const { spec } = stages
  const holdS = stages.holdS as number
  const untilS = lastUnderPressureS(measured.signal, stages)
  const view = gaugeView(measured, stages, untilS)
  const { recording, faults: weather } = isLiquid(section.medium)
    ? { recording: whole, faults: noFaults }
    : withBarometerHeard(whole, system, holdS, untilS)
  const faults = [gaugeFaults(view, recording, system, live), weather]
  const hold = rowsOf(recording, system, stages, measured, untilS)
  const nothing = (why: Faults): SectionFinding => ({
    section: section.id,
    leak: null,
    allowance: null,
    rawDropPa: null,
    verdict: 'void',
    reasons: [...faults, why].flatMap((f) => [...f.voids, ...f.bars, ...f.cautions]),
    secondsMore: null,
    curves: [],
    events: [],
    meaning: null,
  })
  const unfit = (): SectionFinding =>
    nothing(faults[0].voids.length > 0 ? noFaults : voidHold('pressure-implausible', { section: section.id }))
  if (hold === null) return unfit()
  faults.push(temperatureFaults(view, recording, system, hold.temperatureK !== null))
  const widen = wideningOf(live, untilS - holdS, spec.holdS)
  const fitted = isLiquid(section.medium)
    ? liquidFinding(recording, system, stages, section, measured, hold, measured.signal, widen)
    : gasFinding(hold, system, stages, measured, widen)
  if (fitted === null) return unfit()
  const { leak, judged, reasons } =
    rig === null || !joined.includes(rig.rig) ? { ...fitted } : lessRig(fitted, rig, stages)
  const { allowed, allowance, curves } = fitted
  const elapsedS = untilS - holdS
  const neededS = leastToPassSeconds(spec.holdS)
  const tooShort = elapsedS < neededS && guardBanded(judged, allowed) === 'pass'
  const judgedVerdict = tooShort ? 'undecided' : guardBanded(judged, allowed)
  faults.push(riseFault(section, judged, allowed, spec.pressurePa < 0))
  const events = eventsInHold(recording, fitted, holdS, spec.holdS)
  if (judgedVerdict === 'pass')
    faults.push(leakChanged(events, curves, allowance, spec, recording.startNs, holdS))
  const voids = faults.flatMap((f) => f.voids)
  const barred = faults.flatMap((f) => f.bars)
  const stands = voids.length === 0 && (barred.length === 0 || judgedVerdict === 'fail')
  const verdict: Verdict = stands ? judgedVerdict : 'void'
  const own: Reason[] = !stands
    ? []
    : tooShort
      ? [holdTooShort(section.id, elapsedS, spec.holdS)]
      : [verdictReason(judgedVerdict, leak, allowance, spec.allow)]
  const undecided =
    verdict === 'undecided' && !tooShort
      ? timeToDecide(section, spec, { ...fitted, leak, judged }, hold, measured.toleranceM3, holdS, untilS)
      : null
  if (undecided?.otherwise && !live) own.push(undecided.otherwise)
  return {
    section: section.id,
    leak,
    allowance,
    rawDropPa: fitted.rawDropPa,
    verdict,
    reasons: [...own, ...voids, ...barred, ...reasons, ...faults.flatMap((f) => f.cautions)],
    secondsMore:
      verdict === 'undecided' && tooShort ? Math.ceil(neededS - elapsedS) : (undecided?.secondsMore ?? null),
    curves: [curves],
    events: voids.length > 0 ? [] : events,
    meaning: { ...fitted.meaning, section: section.id },
  }
}

/** Rows of the fit; null when there are too few, or when no gas can have had these pressures. */
function rowsOf(
  recording: Recording,
  system: System,
  stages: HoldStages,
  measured: MeasuredSection,
  untilS: number,
): GasHold | null {
  const hold = gasHold(recording, system, stages, measured.signal, measured.joined, untilS)
  if (hold === null) return null
  const sound = hold.absolutePa.every((p) => Number.isFinite(p) && p > 0) && hold.testPa > 0
  const inHold = hold.middleS.reduce((count, time) => count + (time >= (stages.holdS as number) ? 1 : 0), 0)
  return sound && inHold >= 4 ? hold : null
}

/** A pressure that rose, with temperature and atmosphere taken out, is fed from somewhere: its leak is hidden. */
function riseFault(section: Section, judged: Estimate, allowed: number, suction: boolean): Faults {
  const std = (judged.high - judged.low) / (2 * z95)
  const risen = judged.high < -risenShare * allowed && judged.value + risenErrors * std < 0
  return risen ? bars('pressure-rose', { section: section.id, vacuum: suction }) : noFaults
}
