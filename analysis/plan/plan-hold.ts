import { gaugeAdvice } from '#analysis/faults/instrument-advice.ts'
import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import { type HoldResult, leaksOf } from '#analysis/model/hold-result.ts'
import {
  type Channel,
  type HoldSpec,
  isSectionPressure,
  type Section,
  type System,
} from '#analysis/model/system.ts'
import { memoize } from '#analysis/numeric/memoize.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { type DisplayUnits, figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { PlanAdvice } from '#analysis/reasons/hold-cautions.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { leastToPassSeconds } from '#analysis/verdict/section-findings.ts'
import { allowanceAsFuel, planAssumptions, planCautions, planWaits } from './plan-advice.ts'
import { pumpHeat, type RehearsalSetting, readByEyeS, rehearsedHold } from './rehearsed-hold.ts'

/** Bench settings outside the system file. */
export interface PlanSetting {
  readonly sampleHz?: number
  /** Drift of the room's temperature, [K/h]. */
  readonly driftKPerH?: number
  /** Time between readings by eye, [s]; if left out, a gauge with typed readings uses the page's interval. */
  readonly readEveryS?: number
  /** Units of the sentences; the system file's if left out. */
  readonly units?: DisplayUnits
}

/** Detectable leak with 80 % power, 1.96 + 0.84 standard errors, in half-widths of a 95 % interval (1.96). */
const deciding = (z95 + 0.8416) / z95
/** Hold times tried, in stated times. */
const longer = [1, 1.4, 2, 2.8, 4, 5.6, 8]
const shorter = [0.25, 0.35, 0.5, 0.7, 1]
/** Largest drift tried, [K/h]. */
export const largestDriftTriedKPerH = 8
/** Margin of a hold of another length, so that four holds in five decide. */
const otherRoom = 1.5
/** Share of the pumping heat that the fit may leave, and its largest effect as a share of the allowance. */
const heatLeft = 0.2
const heatWorth = 0.1
const leastSettleS = 60

/**
 * Predicts what a hold can decide with its sensors, from the system file alone.
 *
 * Runs the analysis on a simulated tight hold as the file's sensors would record it (`rehearsedHold`); the width of its
 * interval predicts that of a real hold.
 *
 * @returns null when the system has no such hold
 * *Uncertainty* three in four simulated holds were within a factor of 2 of it, the median within 1.4: a few rehearsals
 * represent all holds, and instruments differ from the assumptions.
 */
export function planHold(
  system: System,
  holdId: string,
  { driftKPerH = 1, units: asked, ...said }: PlanSetting = {},
) {
  const spec = system.holds.find(({ id }) => id === holdId)
  if (spec === undefined) return null
  const units = asked ?? unitsOfSystem(system, spec.sections)
  const sections = system.sections.filter(({ id }) => spec.sections.includes(id))
  const main = sections[0]
  const gauge = system.channels.find(
    (c) => isSectionPressure(c.measures) && c.section !== null && spec.sections.includes(c.section),
  )
  const isTyped = gauge?.from.measurement === 'typed'
  const readEveryS = said.readEveryS ?? (isTyped ? readByEyeS(spec.holdS) : undefined)
  const sampleHz = readEveryS === undefined ? (said.sampleHz ?? 1) : 1 / readEveryS
  const usual = {
    ...{ sampleHz, driftKPerH, settleS: spec.settleS, holdS: spec.holdS },
    ...(readEveryS !== undefined && { readEveryS }),
  }
  const { stated, at: rehearse } = rehearsal(system, spec, main, usual, units)
  const allowance = stated.allowance ?? statedAllowance(system, spec)
  const allowedPa = allowance.drop_Pa
  const decidesAt = (change: Partial<RehearsalSetting>, room = 1): boolean => {
    const { smallestPa, sound } = rehearse({ ...usual, ...change })
    return sound && room * smallestPa <= allowedPa
  }
  const decides = gauge !== undefined && stated.sound && stated.smallestPa <= allowedPa
  // a hold ended at exactly this second would be one reading too short
  const leastS = 1.02 * leastToPassSeconds(spec.holdS)
  const holds = (decides ? shorter : longer).map((share) => Math.max(leastS, share * spec.holdS))
  const needed =
    gauge === undefined
      ? null
      : firstOf(holds, (holdS) => (holdS === spec.holdS ? decides : decidesAt({ holdS }, otherRoom)))
  const drift = decides
    ? largestDrift(driftKPerH, stated.smallestPa, allowedPa, (driftKPerH) =>
        rehearse({ ...usual, driftKPerH }),
      )
    : 0
  const perDrop = (figure: number | undefined): number | null =>
    figure === undefined || !(allowedPa > 0) ? null : (figure / allowedPa) * stated.smallestPa
  const cautions: PlanAdvice[] = planCautions(system, spec, sections, units)
  const asFuel = allowanceAsFuel(spec, main, allowance)
  if (asFuel?.isCaution) cautions.unshift(asFuel.advice)
  if (gauge === undefined)
    cautions.unshift(
      own('no-gauge', `No pressure channel sees ${spec.sections.join(' or ')}: nothing can be decided.`),
    )
  else
    for (const { cautions: found } of gaugeAdvice(gauge, spec.pressurePa, allowedPa, gauge.resolutionSi ?? 0))
      for (const one of found) cautions.push(own(one.code, phrase(one, units)))
  cautions.push(...stated.barred)
  return {
    stillhold: 1 as const,
    hold: spec.id,
    /** One sentence: can the stated hold decide the allowance. */
    message: sentence(spec, gauge, stated.sound, decides, needed, allowedPa, stated.smallestPa),
    decides,
    hold_seconds: spec.holdS,
    settle_seconds: spec.settleS,
    /** Allowed drop over the stated hold time, [Pa]. */
    allowed_drop_Pa: allowedPa,
    /** Smallest leak that the stated hold detects four times in five, as a drop in it. */
    smallest_drop_Pa: stated.smallestPa,
    smallest_scc_per_min: perDrop(allowance.scc_per_min),
    smallest_mL_per_min: perDrop(allowance.mL_per_min),
    /** Shortest hold that decides the allowance; null when none of up to eight stated times does. */
    needed_seconds: needed === null ? null : Math.ceil(needed / 10) * 10,
    /** Settle time after which the effect of pumping heat is below a tenth of the allowance. */
    needed_settle_seconds: neededSettleS(spec, main, allowedPa),
    /** Largest steady temperature drift at which the stated hold still decides. */
    largest_drift_K_per_h: drift,
    /** What will make the interval wide, largest first; null when there will be none. */
    budget: gauge === undefined ? null : stated.budget,
    /** Published waits and rules. */
    waits: [
      ...(asFuel && !asFuel.isCaution ? [asFuel.advice] : []),
      ...planWaits(spec, sections, allowedPa, figuresIn(units)),
    ],
    cautions: [
      ...cautions,
      ...planAssumptions(system, sections, gauge, { sampleHz, driftKPerH }, figuresIn(units)),
    ],
  }
}

/** Result of `plan`: what a hold can decide, before pump-up. SI units, named in the key. */
export type Plan = Readonly<NonNullable<ReturnType<typeof planHold>>>

/**
 * The stated hold is rehearsed with fast and slow heat exchange to the wall and with a thermometer on the wall and in the gas;
 * the geometric mean counts. Other lengths and drifts are tried on the usual variant alone.
 */
const usualVariant: Pick<RehearsalSetting, 'lagFactor' | 'touches'> = { lagFactor: 1, touches: 'wall' }
const variants: readonly (typeof usualVariant)[] = [
  usualVariant,
  { lagFactor: 0.7, touches: 'wall' },
  { lagFactor: 1, touches: 'gas' },
  { lagFactor: 1.6, touches: 'wall' },
]

/** Codes of advice that the plan words separately. */
const wordedElsewhere = /^(gauge-|liquid-|interval-|leak-|longer-|hold-too-short|rig-)/

/** Analyzes rehearsals; of the first variant, each setting once. */
function rehearsal(
  system: System,
  spec: HoldSpec,
  main: Section,
  stated: RehearsalSetting,
  units: DisplayUnits,
) {
  const bare: System = { ...system, fittings: [], holds: [{ ...spec, rig: null }] }
  const play = (setting: RehearsalSetting, budget = false): HoldResult =>
    analyzeRecording(rehearsedHold(bare, spec, main, setting), bare, { rehearsal: true, budget })[0].result
  const isSound = ({ leak, verdict }: HoldResult): boolean => leak !== null && verdict !== 'void'
  const results = variants.map((variant, i) => play({ ...stated, ...variant }, i === 0))
  const middlePa = Math.exp(
    results.reduce((sum, result) => sum + Math.log(smallestPa(result, spec)), 0) / results.length,
  )
  const voided = results.find((result) => !isSound(result))
  const usual = memoize(
    (setting: RehearsalSetting) => (setting === stated ? results[0] : play({ ...setting, ...usualVariant })),
    ({ settleS, holdS, driftKPerH }) => `${settleS} ${holdS} ${driftKPerH}`,
  )
  usual(stated)
  return {
    stated: {
      /** Smallest detectable leak, as a drop in the stated time, [Pa]. */
      smallestPa: middlePa,
      /** False when the analysis would call such a hold void. */
      sound: voided === undefined,
      allowance: results[0].allowance,
      budget: results[0].budget ?? null,
      barred: (voided?.reasons ?? [])
        .filter(({ code }) => !wordedElsewhere.test(code))
        .map((one) => own(one.code, phrase(one, units))),
    },
    at: (setting: RehearsalSetting) => {
      const result = usual(setting)
      const change = smallestPa(result, spec) / smallestPa(usual(stated), spec)
      return { smallestPa: change * middlePa, sound: isSound(result) }
    },
  }
}

/** Smallest detectable leak from a tight hold's result, as a drop, [Pa]; all of the pressure if it has no interval. */
function smallestPa(result: HoldResult, spec: HoldSpec): number {
  const half = Math.max(...leaksOf(result).map(({ drop_Pa }) => (drop_Pa.high - drop_Pa.low) / 2))
  return half > 0 && Number.isFinite(half) ? deciding * half : Math.abs(spec.pressurePa)
}

/** First of ascending values that passes the test, if all after it pass too; null when none does. */
function firstOf(values: readonly number[], does: (value: number) => boolean): number | null {
  let low = 0
  let high = values.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (does(values[middle])) high = middle
    else low = middle + 1
  }
  return low < values.length ? values[low] : null
}

/**
 * Largest drift at which the hold still decides, [K/h], from one rehearsal at a large drift: the square of the width is a
 * constant plus a share of the square of the drift.
 *
 * *Uncertainty* plans of the two demo tanks at 1 to 8 K/h cross their allowance within an eighth of it (rehearsed).
 */
function largestDrift(
  fromKPerH: number,
  fromPa: number,
  allowedPa: number,
  at: (driftKPerH: number) => { readonly smallestPa: number; readonly sound: boolean },
): number {
  for (let most = largestDriftTriedKPerH; most > fromKPerH; most /= 2) {
    const { smallestPa, sound } = at(most)
    if (!sound) continue
    if (smallestPa <= allowedPa) return most
    const perSquare = (smallestPa ** 2 - fromPa ** 2) / (most ** 2 - fromKPerH ** 2)
    const largest = Math.sqrt(fromKPerH ** 2 + (allowedPa ** 2 - fromPa ** 2) / perSquare)
    return Math.floor(10 * largest) / 10
  }
  return fromKPerH
}

/** Settling time after which the residual heat of pumping is worth less than a tenth of the allowance, [s]. */
function neededSettleS(spec: HoldSpec, main: Section, allowedPa: number): number {
  const { heatPa, tauS } = pumpHeat(spec, main)
  const ratio = (heatLeft * Math.abs(heatPa)) / (heatWorth * allowedPa)
  return Math.max(leastSettleS, ratio > 1 ? Math.ceil((tauS * Math.log(ratio)) / 30) * 30 : 0)
}

function sentence(
  spec: HoldSpec,
  gauge: Channel | undefined,
  sound: boolean,
  decides: boolean,
  needed: number | null,
  allowedPa: number,
  smallestPa: number,
): string {
  if (gauge === undefined) return `Nothing is measured in ${spec.id}: connect a transducer.`
  if (!sound) return `A hold with these sensors would prove nothing: see the cautions.`
  const share = Math.round((100 * smallestPa) / allowedPa)
  if (decides)
    return `A hold of ${Math.round(spec.holdS / 60)} min can decide this allowance: the smallest leak it can detect is ${share} % of it.`
  if (needed !== null)
    return `A hold of ${Math.round(spec.holdS / 60)} min is too short for this allowance; about ${Math.ceil(needed / 60)} min would decide it.`
  return 'These sensors cannot decide this allowance in any reasonable time: measure the temperature better, keep it steadier, or use a gauge with a smaller span.'
}

function own(topic: string, message: string): PlanAdvice {
  return { topic, message, source: null }
}
