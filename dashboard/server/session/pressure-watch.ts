import { isTank, type Section } from '#analysis/model/system.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { phrase, reason } from '#analysis/reasons/phrase.ts'
import type { ReasonCode, ValuesOf } from '#analysis/reasons/phrases.ts'
import type { Alarm, LostAnswer, PressureLost, RunningHold } from '#dashboard/api.ts'

/** 0.5 psi/min, [Pa/s]: maximum rate of pumping up a tank. Source: laboratory procedure to 33 CFR 183.542. */
const tankRampLimitPaPerS = (0.5 * 6894.757293) / 60

/** Hysteresis: an alarm ends when the pressure is this fraction under the limit. */
const releaseFraction = 0.98

/** Window over which a ramp is measured, [s]. */
const rampSpanS = 10

/** Watches one section's gauge pressure against its limits. */
export class PressureAlarms {
  readonly #section: Section
  #over: 'pressure' | 'vacuum' | null = null
  /** Largest distance of the section from the atmosphere: a vent leads back, and may be fast either way. */
  #window: { timeS: number; awayPa: number }[] = []
  #isBelow = false

  constructor(section: Section) {
    this.#section = section
  }

  update(timeS: number, pressurePa: number): void {
    const { maxPressurePa, maxVacuumPa } = this.#section
    const excess = Math.max(
      maxPressurePa === null ? 0 : pressurePa / maxPressurePa,
      maxVacuumPa === null ? 0 : -pressurePa / maxVacuumPa,
    )
    if (excess > 1) this.#over = pressurePa > 0 ? 'pressure' : 'vacuum'
    else if (excess < releaseFraction) this.#over = null
    const last = this.#window.at(-1)
    // Four points a second are enough for a slope, whatever the logger's rate; after a step back the window restarts.
    if (last && timeS < last.timeS) this.#window = []
    if (isTank(this.#section) && (!last || timeS - last.timeS >= 0.25))
      this.#window.push({ timeS, awayPa: Math.abs(pressurePa) })
    this.#isBelow = pressurePa < 0
    for (let [oldest] = this.#window; oldest && timeS - oldest.timeS > rampSpanS; [oldest] = this.#window)
      this.#window.shift()
  }

  alarms(): Alarm[] {
    const { id, maxPressurePa, maxVacuumPa } = this.#section
    const found: Alarm[] = []
    if (this.#over) {
      const limit_Pa = this.#over === 'pressure' ? maxPressurePa! : maxVacuumPa!
      found.push(alarm('over-pressure', { section: id, of: this.#over, limit_Pa }))
    }
    const slope = this.#slopePaPerS()
    if (slope > tankRampLimitPaPerS) {
      const figures = { per_min_Pa: 60 * slope, most_Pa: 60 * tankRampLimitPaPerS }
      found.push(alarm('ramp-too-fast', { section: id, isBelow: this.#isBelow, ...figures }))
    }
    return found
  }

  /** Slope away from the atmosphere over the window, [Pa/s]; NaN until the data span most of it. */
  #slopePaPerS(): number {
    const timeS = Float64Array.from(this.#window, (point) => point.timeS)
    const awayPa = Float64Array.from(this.#window, (point) => point.awayPa)
    if ((timeS.at(-1) ?? 0) - (timeS[0] ?? 0) < rampSpanS * 0.7) return Number.NaN
    return slope(timeS, awayPa)?.perS ?? Number.NaN
  }
}

/** An alarm with its SI numbers; the message is for readers that do not format it themselves. */
export function alarm<C extends ReasonCode & Alarm['code']>(code: C, values: ValuesOf<C>): Alarm {
  const made = reason(code, values)
  return { code, values: made.values, message: phrase(made, unitsOfSystem(null)) }
}

/** State of one section at a pressure comparison. */
export interface SectionNow {
  readonly section: string
  readonly timeS: number
  readonly gaugePa: number
  readonly absolutePa: number
  /** Gas temperature, [K]; null without a thermometer. */
  readonly temperatureK: number | null
}

interface Anchor extends SectionNow {
  /** Fastest pressure drop that the leak's interval then allowed, [Pa/s]. */
  readonly fallPaPerS: number
}

/** The interval assumes a constant leak: a drop of this many times its upper bound has another cause. */
const leakTimes = 3
/** The gas temperature may change by this many times the change on its thermometer. */
const warmthTimes = 2
/** Effect of noise, touch and draughts, as a fraction of the absolute pressure, capped at a fraction of the gauge pressure. */
const absolutePart = 0.01
const gaugePart = 0.25
/** A drop of this fraction of the gauge pressure needs no second reading to confirm it. */
const clearPart = 0.2
/** Age limit of anchors, [s]: a slowly opened cock shows only against an older one. */
const keptForS = 60

/** Watches a running hold for a drop that no leak in the interval explains: an unmarked vent, or a failed joint. */
export class PressureLoss {
  readonly #anchors = new Map<string, Anchor[]>()
  /** A drop that the next reading must confirm. */
  #suspect: string | null = null

  /** Sets the reference pressure of a section to the present one. @param fallPaPerS upper bound of its drop rate, [Pa/s] */
  anchor(now: readonly SectionNow[], fallPaPerS: number): void {
    for (const each of now) {
      const kept = (this.#anchors.get(each.section) ?? []).filter(
        ({ timeS }) => each.timeS - timeS < keptForS,
      )
      this.#anchors.set(each.section, [...kept, { ...each, fallPaPerS }])
    }
  }

  /** The section that lost its pressure; null while a leak, the weather or temperature can explain every change. */
  update(now: readonly SectionNow[]): PressureLost | null {
    const suspectBefore = this.#suspect
    this.#suspect = null
    for (const each of now) {
      const from = this.#anchors.get(each.section)?.find((anchor) => isUnexplained(anchor, each))
      if (!from) continue
      const fallPa = Math.abs(from.gaugePa) - Math.abs(each.gaugePa)
      if (fallPa > clearPart * Math.abs(from.gaugePa) || suspectBefore === each.section)
        return { section: each.section, atS: each.timeS, fromPa: from.gaugePa, toPa: each.gaugePa }
      this.#suspect = each.section
    }
    return null
  }
}

function isUnexplained(from: Anchor, now: SectionNow): boolean {
  // Under vacuum a loss is a rise towards the atmosphere.
  const fallPa = Math.abs(from.gaugePa) - Math.abs(now.gaugePa)
  const leakPa = leakTimes * from.fallPaPerS * (now.timeS - from.timeS)
  const warmthPa =
    from.temperatureK === null || now.temperatureK === null
      ? 0
      : (warmthTimes * from.absolutePa * Math.abs(now.temperatureK - from.temperatureK)) / from.temperatureK
  const floorPa = Math.min(absolutePart * from.absolutePa, gaugePart * Math.abs(from.gaugePa))
  return fallPa > leakPa + warmthPa + floorPa
}

/** The operator's answer as written in the recording. */
export const lostWords: Readonly<Record<LostAnswer, string>> = {
  vented: 'vented without a mark, the operator says',
  'let-go': 'a joint let go, the operator says',
  unknown: 'the operator does not know why',
  'still-holding': 'it still holds pressure, the operator says, and the hold goes on',
}

/** Window of each of the two compared slopes, [s]; shorter when the planned settle time is short. */
const spanS = 20
const leastSpanS = 5
/** Maximum difference of the slopes, relative to the rate of the allowance. */
const toleratedPart = 0.25
/** Hysteresis: an even pressure stays even until the slopes differ by this many times as much. */
const releaseTimes = 2

/** Trend of the pressure of a settling section; the page words it. */
export type Settled = Omit<NonNullable<RunningHold['settled']>, 'startsInS'>

/**
 * Whether a section has settled: its pressure falls evenly, so that the heat of pumping and the creep of hoses no
 * longer bend the curve. This decides when a hold may start, never the verdict.
 *
 * @param timeS since the start of settling, newest last, [s]; @param gaugePa of the same length, [Pa]
 * @param allowedPaPerS rate of the allowance, [Pa/s], > 0
 * @param settleS planned settle time, [s]; @param wasReady the previous result
 */
export function settled(
  { timeS, gaugePa }: { readonly timeS: Float64Array; readonly gaugePa: Float64Array },
  allowedPaPerS: number,
  { settleS, wasReady }: { readonly settleS: number; readonly wasReady: boolean },
): Settled {
  const span = Math.max(leastSpanS, Math.min(spanS, settleS / 2))
  const endS = timeS.at(-1) ?? 0
  const isLongEnough = endS - (timeS[0] ?? 0) >= 1.8 * span
  const before = isLongEnough ? slope(timeS, gaugePa, endS - 2 * span, endS - span) : null
  const now = isLongEnough ? slope(timeS, gaugePa, endS - span, endS) : null
  if (!before || !now) return { ready: false, nowPaPerS: null, beforePaPerS: null }
  const bend = Math.abs(now.perS - before.perS)
  const noise = 3 * Math.hypot(now.std, before.std)
  const limit = Math.max(toleratedPart * allowedPaPerS, noise)
  return {
    ready: bend <= limit * (wasReady ? releaseTimes : 1),
    nowPaPerS: now.perS,
    beforePaPerS: before.perS,
  }
}

/** Least-squares slope between two times, with its standard uncertainty; null for fewer than four values. */
function slope(
  timeS: Float64Array,
  value: Float64Array,
  fromS = Number.NEGATIVE_INFINITY,
  toS = Number.POSITIVE_INFINITY,
): { readonly perS: number; readonly std: number } | null {
  const indexAfter = (atS: number) => timeS.findLastIndex((each) => each <= atS) + 1
  const [first, end] = [indexAfter(fromS), indexAfter(toS)]
  if (end - first < 4) return null
  const line = straightLine(timeS.subarray(first, end), value.subarray(first, end))
  // Readings of one instant have no slope.
  return Number.isFinite(line.slope) ? { perS: line.slope, std: line.stdSlope } : null
}
