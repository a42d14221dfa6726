import { blocksPass, type Faults, noFaults } from '#analysis/faults/fault.ts'
import type { Estimate, HoldCurves, HoldEvent, Reason } from '#analysis/model/hold-result.ts'
import { stdOf } from '#analysis/numeric/estimate.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { lineThrough } from '#analysis/signal/column-spans.ts'
import type { FittedSection } from './fitted-section.ts'

/** A hold that would pass, as input to the guards. */
export interface WouldPass extends Pick<FittedSection, 'judged' | 'allowed' | 'curves'> {
  readonly section: string
  /** Allowed fall over the stated hold time, [Pa]. */
  readonly allowedPa: number
  readonly events: readonly HoldEvent[]
  readonly startNs: string
  readonly holdS: number
  readonly statedS: number
  readonly suction: boolean
  readonly sort: 'line' | 'tank' | 'liquid'
  /** The gauge's steps are coarse, which widens its interval. */
  readonly coarse: boolean
  /** Leak equal to the allowance, in the unit of the events. */
  readonly allowedRate: number
}

/** A change of slope counts from this probability, and alone from this share of the allowance. Own figures. */
const likely = 0.5
const surely = 0.9
const changeShare = 0.5
/** A leak is clearly negative beyond this share of the allowance and this multiple of its standard error. Own figures. */
const belowShare = 0.25
const belowErrors = 0.5
/** Largest half-width of an interval that passes, as a share of the allowance: a line is more sensitive than a tank. Own figures. */
const widestShare = { line: 0.34, tank: 0.55 } as const

/** Reasons against a pass although the interval is below the allowance; docs/false-passes.md gives the cost. */
export function passDoubts(hold: WouldPass): Reason[] {
  return [slopeChanged(hold), belowZero(hold), tooWide(hold), unexplainedDrop(hold)].flatMap((doubt) =>
    doubt === null ? [] : [doubt],
  )
}

/** A rise that slows by this much more than the leak law predicts is not a leak alone. Own figure. */
const slowing = 0.06

/**
 * Reason to suspect vapor instead of a leak in a gas section under suction: fuel left in a line evaporates until saturation,
 * and the gauge rises as with a leak. The section was marked as not dry, or its rise slows more than p_b² − p² does. Vapor
 * that rises evenly through the whole hold cannot be distinguished from a leak.
 */
export function vaporDoubt(
  section: string,
  { timeS, holdStartS, compensatedPa, gaugePa, barometricPa }: HoldCurves,
  notDry: boolean,
): Reason | null {
  if (notDry) return reason('vapor-or-leak', { section, slows: false })
  const fromS = holdStartS ?? timeS[0]
  const untilS = timeS[timeS.length - 1]
  const middleS = (fromS + untilS) / 2
  const part = (startS: number, endS: number) => {
    const line = lineThrough(timeS, compensatedPa, startS, endS, endS)
    let law = 0
    timeS.forEach((s, i) => {
      const outsidePa = barometricPa?.[i] ?? standardAtmospherePa
      if (s >= startS && s <= endS) law += outsidePa ** 2 - (outsidePa + gaugePa[i]) ** 2
    })
    return line && { ...line, law }
  }
  const [first, second] = [part(fromS, middleS), part(middleS, untilS)]
  if (!first || !second || !(first.perS > 0)) return null
  const ratio = second.perS / first.perS
  const std = Math.hypot(second.stdPerS, ratio * first.stdPerS) / first.perS
  return ratio + z95 * std < second.law / first.law - slowing
    ? reason('vapor-or-leak', { section, slows: true })
    : null
}

/** Slope changes inside a hold, with the parts before and after each, [s]. */
function slopesOf({ events, startNs, holdS, curves: { timeS } }: WouldPass) {
  const endS = timeS[timeS.length - 1]
  return events.flatMap(({ kind, time_ns, probability, change }) => {
    const atS = Number(BigInt(time_ns) - BigInt(startNs)) / 1e9
    const parts = { before: [holdS, atS], after: [atS, endS] } as const
    return kind === 'slope' ? [{ probability, change, intoS: atS - holdS, parts }] : []
  })
}

/** Loss over the stated hold at the rate of one part of a curve, plus this many standard errors, [Pa]; null without a fit. */
function lossPa(
  { suction, statedS, curves: { timeS } }: WouldPass,
  pa: Float64Array,
  [fromS, toS]: readonly [fromS: number, toS: number],
  errors: number,
): number | null {
  const line = lineThrough(timeS, pa, fromS, toS, toS)
  return line && ((suction ? 1 : -1) * line.perS + errors * line.stdPerS) * statedS
}

/** Each part before or after a slope change must leak less than the allowance at its own rate. */
function slopeChanged(hold: WouldPass): Reason | null {
  for (const { probability, change, intoS, parts } of slopesOf(hold)) {
    if (probability < likely) continue
    const large = probability > surely && Math.abs(change.value) > changeShare * hold.allowedRate
    for (const part of ['before', 'after'] as const) {
      const mostPa = lossPa(hold, hold.curves.compensatedPa, parts[part], z95)
      if (mostPa === null || !(mostPa < hold.allowedPa) || large)
        return reason('slope-changed', { section: hold.section, at_s: intoS, part })
    }
  }
  return null
}

/** Least probability of a change of the leak. Own figure. */
const sure = 0.9
/** Relative error of the correction for temperature, weather and heat. Own figure. */
const correctionTrust = 0.15
/** Standard errors by which the part before or after the change must exceed the allowance. Own figure. */
const changedErrors = 3

/**
 * A leak that changed during a hold and was above the allowance on one side of the change: the mean over the hold may still
 * be below it. A gauge that was shut off and a joint that opened late look like this.
 *
 * Leak of a part, as a drop in the stated hold: −slope · stated hold time of the corrected pressure, less a share of the
 * correction for temperature and atmosphere: residual heat early in a hold must not count as a leak that stopped.
 */
export function leakChanged(hold: WouldPass): Faults {
  const { section, allowedPa, allowedRate } = hold
  const { gaugePa, compensatedPa } = hold.curves
  const correctionPa = gaugePa.map((pressure, i) => pressure - compensatedPa[i])
  type Part = readonly [fromS: number, toS: number]
  const doubt = (part: Part): number => correctionTrust * Math.abs(lossPa(hold, correctionPa, part, 0) ?? 0)
  const tooMuch = (part: Part): boolean => {
    const leastPa = lossPa(hold, compensatedPa, part, -changedErrors)
    return leastPa !== null && leastPa - doubt(part) > allowedPa
  }
  for (const { probability, change, intoS, parts } of slopesOf(hold)) {
    if (probability < sure) continue
    const unsure = Math.max(doubt(parts.before), doubt(parts.after)) / allowedPa
    const byMore =
      Math.min(Math.abs(change.low), Math.abs(change.high)) > (1 + unsure) * allowedRate &&
      change.low * change.high > 0
    // A leak is never negative: one that fell by more than the allowance was above it.
    const before = (change.value < 0 && byMore) || tooMuch(parts.before)
    if (before || byMore || tooMuch(parts.after))
      return blocksPass('leak-changed', { section, side: before ? 'before' : 'after', seconds: intoS })
  }
  return noFaults
}

/** A negative leak means that gas enters or that a stated value is wrong; it may hide an equal leak. */
function belowZero({ section, judged, allowed }: WouldPass): Reason | null {
  if (judged.value > -belowShare * allowed || judged.value > -belowErrors * stdOf(judged)) return null
  return reason('leak-below-zero', { section })
}

/** So wide an interval means a change that neither the sensors nor the section's kind explain. */
function tooWide({ section, judged, allowed, sort, coarse }: WouldPass): Reason | null {
  if (coarse || sort === 'liquid' || (judged.high - judged.low) / 2 < widestShare[sort] * allowed) return null
  return reason('interval-too-wide', { section, sort })
}

/**
 * The interval shifted to the largest leak that passes at the widest allowed width. A hold whose only doubt is its width
 * passes once this interval is below the allowance, so the time to decide is computed from it.
 */
export function asWideAsPasses(judged: Estimate, allowed: number, sort: 'line' | 'tank'): Estimate {
  const shift = allowed * (1 - widestShare[sort]) - judged.value
  return { value: judged.value + shift, low: judged.low + shift, high: judged.high + shift }
}

/**
 * An unexplained pressure fall late in a gas hold must be less than the allowance. A full line responds to a kelvin with a
 * hundred times the pressure of a gas, which only its own fit models.
 */
function unexplainedDrop(hold: WouldPass): Reason | null {
  const { section, holdS, allowedPa, sort } = hold
  if (sort === 'liquid') return null
  const { timeS, gaugePa, temperatureK, barometricPa } = hold.curves
  const endS = timeS[timeS.length - 1]
  // Try no thermometer response and a rigid section's full response; the better one counts.
  const least = [0, 1].map((follows) => {
    const corrected = gaugePa.map((gauge, i) => {
      const atmosphere = barometricPa === null ? 0 : barometricPa[i] - barometricPa[0]
      const heat =
        temperatureK === null
          ? 0
          : ((gauge + standardAtmospherePa) * (temperatureK[i] - temperatureK[0])) / temperatureK[0]
      return gauge + atmosphere - follows * heat
    })
    return lossPa(hold, corrected, [(holdS + endS) / 2, endS], -z95) ?? Number.NEGATIVE_INFINITY
  })
  return Math.min(...least) < allowedPa ? null : reason('drop-unexplained', { section })
}
