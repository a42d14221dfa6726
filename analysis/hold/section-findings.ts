import { findEvents } from '#analysis/events/find-events.ts'
import { type RigStanding, subtractRig } from '#analysis/hunt/rig.ts'
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
import { firstIndexAt } from './block-averages.ts'
import { type Faults, isVoid } from './faults/fault.ts'
import { gaugeView } from './faults/gauge-view.ts'
import { temperatureFaults, unmeasuredK } from './faults/temperature.ts'
import { gasCurves } from './gas-curves.ts'
import { type GasFit, gasFit } from './gas-fit.ts'
import { gasLeak } from './gas-leak.ts'
import {
  type GasBeliefs,
  gainBeliefs,
  gasThermometerBelief,
  isTank,
  shapeFamilies,
  stretchBeliefs,
} from './gas-priors.ts'
import { type GasHold, gasHold } from './gas-rows.ts'
import { gaugeFaults } from './hold-faults.ts'
import type { HoldStages } from './hold-stages.ts'
import { guardBanded } from './hold-verdict.ts'
import { liquidFinding } from './liquid-finding.ts'
import { isLiquid } from './liquid-prior.ts'
import { wideningOf } from './look-widening.ts'
import { meaningOf } from './meaning.ts'
import { type ShrinkingVariance, secondsMore } from './more-time.ts'
import type { MeasuredSection } from './pressurised-bodies.ts'
import { lastUnderPressureS } from './under-pressure.ts'
import { longerWillNotHelp, verdictReason } from './verdict-reason.ts'

/**
 * A hold that lasted less than this share of its stated time does not pass, however narrow its interval: what is slow
 * (creep, drift, a leak that opens late) has not had its time. Own figure.
 */
const leastShareToPass = 0.25
/** Nor does one shorter than this, whatever was stated, [s]. Own figure. */
const leastToPassS = 10

function holdTooShort(section: string, elapsedS: number, statedS: number): Reason {
  return {
    code: 'hold-too-short',
    message: `${section}: the hold lasted ${Math.round(elapsedS)} s of its stated ${Math.round(statedS)} s; under a quarter of it, or under ${leastToPassS} s, nothing passes, however small the leak looks.`,
  }
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

/** What a fit, of gas or of a liquid, tells of a section before it is judged. */
export interface FittedSection {
  readonly leak: SectionLeak
  readonly allowance: AllowanceFigures
  /** The estimate in the allowance's own unit, and the allowance in it. */
  readonly judged: Estimate
  readonly allowed: number
  readonly rawDropPa: number
  readonly reasons: readonly Reason[]
  readonly curves: HoldCurves
  readonly meaning: Meaning
  readonly variance: ShrinkingVariance
}

/** Creep time constants to try, as shares of the span. */
const creepShares = [0.12, 0.3, 0.8]

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
const unknownWeatherPaPerS = 130 / 3600

const z95 = 1.959963984540054
/** A rise above this share of the allowance, by so many standard errors, is no noise. */
const risenShare = 0.05
const risenErrors = 3

/** Everything one section's gauge tells of a hold: its faults, its fit, its verdict. */
export function sectionFinding(
  recording: Recording,
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
  const faults = [gaugeFaults(view, recording, system, live)]
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
  const silent = faults[0].voids.length > 0 ? [] : ['too few usable readings between pump-up and vent']
  const unfit = (): SectionFinding =>
    nothing(
      silent.length > 0
        ? isVoid(
            'too-few-samples',
            `${section.id} has ${silent[0]}: let the logger read more often, hold longer.`,
          )
        : { voids: [], bars: [], cautions: [] },
    )
  if (hold === null) return unfit()
  faults.push(temperatureFaults(view, recording, system, hold.temperatureK !== null))
  const widen = wideningOf(live, untilS - holdS, spec.holdS)
  const fitted = isLiquid(section.medium)
    ? liquidFinding(recording, stages, section, measured, hold, measured.signal, widen)
    : fitGas(hold, system, stages, measured, widen)
  if (fitted === null) return unfit()
  const { leak, judged, reasons } =
    rig === null || !joined.includes(rig.rig) ? { ...fitted } : lessRig(fitted, rig, stages)
  const { allowed, allowance, curves } = fitted
  const elapsedS = untilS - holdS
  const neededS = Math.max(leastToPassS, leastShareToPass * spec.holdS)
  const tooShort = elapsedS < neededS && guardBanded(judged, allowed) === 'pass'
  const judgedVerdict = tooShort ? 'undecided' : guardBanded(judged, allowed)
  faults.push(riseFault(section, judged, allowed))
  const voids = faults.flatMap((f) => f.voids)
  const bars = faults.flatMap((f) => f.bars)
  const stands = voids.length === 0 && (bars.length === 0 || judgedVerdict === 'fail')
  const verdict: Verdict = stands ? judgedVerdict : 'void'
  const own: Reason[] = !stands
    ? []
    : tooShort
      ? [holdTooShort(section.id, elapsedS, spec.holdS)]
      : [verdictReason(judgedVerdict, leak, allowance, spec.allow, measured.signal.channel)]
  const more =
    verdict !== 'undecided'
      ? null
      : tooShort
        ? Math.ceil(neededS - elapsedS)
        : secondsMore(judged, allowed, fitted.variance, elapsedS, spec.holdS)
  if (verdict === 'undecided' && more === null && !live)
    own.push(
      longerWillNotHelp(section, {
        thermometer: hold.temperatureK === null,
        barometer: hold.barometricPa === null && !isLiquid(section.medium),
        volume: spec.allow.kind === 'gas-leak' && measured.toleranceM3 > 0,
        stretch: section.stretchPerPa === null && !isLiquid(section.medium),
      }),
    )
  return {
    section: section.id,
    leak,
    allowance,
    rawDropPa: fitted.rawDropPa,
    verdict,
    reasons: [...own, ...voids, ...bars, ...reasons, ...faults.flatMap((f) => f.cautions)],
    secondsMore: more,
    curves: [curves],
    events: voids.length > 0 ? [] : eventsOf(recording, fitted, holdS, spec.holdS),
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

function fitGas(
  hold: GasHold,
  system: System,
  stages: HoldStages,
  measured: MeasuredSection,
  widen: number,
): FittedSection | null {
  const { spec } = stages
  const { section } = measured
  const known = hold.temperatureK === null ? { ...hold, unseenTemperatureK: unmeasuredK } : hold
  const fit = fitOrNull(known, gasBeliefs(known, section, spec.pressurePa, spec.holdS))
  if (fit === null) return null
  const { leak, allowance, judged, allowed } = gasLeak(fit, hold, system, spec, section, measured, widen)
  if (![judged.value, judged.low, judged.high, allowed].every(Number.isFinite)) return null
  const molPerS = leak.mol_per_s?.value ?? 0
  return {
    leak,
    allowance,
    judged,
    allowed,
    rawDropPa: rawDrop(hold, stages.holdS as number),
    reasons: [],
    curves: gasCurves(hold, fit, section, stages.holdS as number),
    meaning: meaningOf(
      { kind: 'gas', molPerS },
      {
        medium: section.medium,
        insidePa: hold.testPa,
        outsidePa: hold.meanBarometricPa,
        temperatureK: hold.meanTemperatureK,
        dropPa: leak.drop_Pa.value,
        holdS: spec.holdS,
      },
    ),
    variance: varianceOf(hold, fit, stages, measured, judged, widen),
  }
}

/** The fit refuses rows that carry no information, as a dead gauge gives them. */
function fitOrNull(hold: GasHold, beliefs: GasBeliefs): GasFit | null {
  try {
    return gasFit(hold.rows, beliefs)
  } catch (cause) {
    if (cause instanceof RangeError) return null
    throw cause
  }
}

/** The variance of the judged figure, by how its parts go down with time. */
function varianceOf(
  hold: GasHold,
  fit: GasFit,
  stages: HoldStages,
  measured: MeasuredSection,
  judged: Estimate,
  widen: number,
): ShrinkingVariance {
  const { spec } = stages
  const { rows } = hold
  const n = rows.fromS.length
  const spanS = rows.toS[n - 1] - Math.max(0, rows.holdFromS)
  const blocks = Math.max(2, (n * spanS) / (rows.toS[n - 1] - rows.fromS[0]))
  const { whiteScale, walkPerS } = fit.best.noise
  const variances = Float64Array.from(rows.variance).sort()
  const ofLog = (spec.holdS / spanS) ** 2
  const byDrop = spec.allow.kind === 'drop' || spec.allow.kind === 'rise'
  const perLog = byDrop
    ? hold.testPa
    : Math.abs(judged.value / (fit.best.coefficients.length > 0 ? logDropOf(fit) : 1))
  const scale = Number.isFinite(perLog) && perLog > 0 ? perLog ** 2 : 0
  const weather = hold.barometricPa === null ? unknownWeatherPaPerS * spec.holdS : 0
  const volume = byDrop ? 0 : measured.toleranceM3 / measured.volumeM3 / Math.sqrt(3)
  return {
    white: (12 * whiteScale * variances[n >> 1] * ofLog * scale) / blocks,
    walk: 1.2 * walkPerS * spanS * ofLog * scale,
    lasting: (Math.hypot(0.01, volume) * judged.value) ** 2 + scale * (weather / hold.testPa) ** 2,
    whole: ((judged.high - judged.low) / (2 * z95 * widen)) ** 2,
  }
}

function logDropOf({ drop }: GasFit): number {
  let sum = 0
  let total = 0
  drop.mean.forEach((mean, i) => {
    sum += drop.weight[i] * mean
    total += drop.weight[i]
  })
  return sum / total
}

function lessRig(fitted: FittedSection, rig: RigStanding, { spec }: HoldStages): FittedSection {
  if (rig.state === 'unproven' || rig.leak === null || rig.pressurePa === null) return fitted
  const taken = subtractRig(fitted.leak, rig.leak, spec.pressurePa, rig.pressurePa)
  if (taken === null) return fitted
  const { leak, reason } = taken
  const judged =
    spec.allow.kind === 'gas-leak'
      ? leak.mol_per_s
      : spec.allow.kind === 'liquid-leak'
        ? leak.mL_per_min
        : leak.drop_Pa
  if (judged === undefined) return fitted
  const scale = spec.allow.kind === 'liquid-leak' ? 1 / 60e6 : 1
  return {
    ...fitted,
    leak,
    judged: { value: scale * judged.value, low: scale * judged.low, high: scale * judged.high },
    reasons: [...fitted.reasons, reason],
  }
}

/** A pressure that rose, with temperature and atmosphere taken out, is fed from somewhere: its leak is hidden. */
function riseFault(section: Section, judged: Estimate, allowed: number): Faults {
  const std = (judged.high - judged.low) / (2 * z95)
  const risen = judged.high < -risenShare * allowed && judged.value + risenErrors * std < 0
  if (!risen) return { voids: [], bars: [], cautions: [] }
  return {
    voids: [],
    bars: [
      {
        code: 'pressure-rose',
        message: `The pressure of ${section.id} rose although nothing that was measured explains it: gas or liquid comes in past a valve or from the supply, and hides what leaks out.`,
      },
    ],
    cautions: [],
  }
}

function eventsOf(
  recording: Recording,
  { curves, allowance, leak }: FittedSection,
  holdS: number,
  statedS: number,
): HoldEvent[] {
  const from = firstIndexAt(curves.timeS, holdS)
  const rate = allowance.mol_per_s ?? (allowance.mL_per_min ?? 0) / 60e6
  const leakPerPa = (rate * statedS) / allowance.drop_Pa
  const compensatedPa = curves.compensatedPa.subarray(from)
  if (!Number.isFinite(leakPerPa) || !compensatedPa.every(Number.isFinite)) return []
  return findEvents(
    {
      section: curves.section,
      timeS: curves.timeS.subarray(from),
      compensatedPa,
      leakPerPa,
      leakUnit: leak.mol_per_s ? 'mol_per_s' : 'm3_per_s',
    },
    recording.marks,
    recording.startNs,
  )
}

/** What is believed of a gas hold before its data. */
function gasBeliefs(hold: GasHold, section: Section, pressurePa: number, holdS: number): GasBeliefs {
  const gauge = Math.abs(pressurePa)
  const unseen = hold.unseenTemperatureK / hold.meanTemperatureK
  const unseenWeather = hold.unseenWeatherPa ?? unknownWeatherPaPerS * holdS
  // An absolute gauge feels the weather only through a volume that gives way to it.
  const feels = hold.absolute ? (isTank(section) && section.stretchPerPa !== 0 ? 0.5 : 0.05) : 1
  const weather = (feels * unseenWeather) / hold.testPa
  const span = hold.rows.toS[hold.rows.toS.length - 1]
  return {
    stretch: stretchBeliefs(section),
    gain: gainBeliefs,
    families: shapeFamilies(section, hold.temperatureK === null ? 0 : gasThermometerBelief(hold.warmth)),
    fullHeat: (2 / 7) * (gauge / hold.testPa),
    creepScale: 0.005 * (gauge / hold.testPa),
    creepWeight: 0.4,
    creepTausS: creepShares.map((share) => share * span),
    dropStd: gauge / hold.testPa,
    unseenStd: Math.hypot(unseen, weather),
  }
}

function rawDrop(hold: GasHold, holdS: number): number {
  let first = 0
  while (first < hold.middleS.length - 1 && hold.middleS[first] < holdS) first++
  return hold.gaugePa[first] - hold.gaugePa[hold.gaugePa.length - 1]
}
