import type { GasHold } from '#analysis/fit/gas-rows.ts'
import type { Estimate, Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { normalCdf, z95 } from '#analysis/numeric/normal-distribution.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { Help } from '#analysis/reasons/phrases.ts'
import { type FollowedChange, followedChange } from '#analysis/signal/followed-change.ts'
import type { FittedSection, ShrinkingVariance } from './fitted-section.ts'

/** Longest advised hold, in stated times and in seconds. */
const mostTimes = 8
const longestS = 6 * 3600
/** Least advised extension, as a share. */
const leastShare = 0.1
/** Computed probability of a verdict at the advised time; 8 in 10 simulated holds decide. Own figure. */
const promised = 0.7
/**
 * Power of the time with which the variance from heat, creep and temperature falls: between a walk (1) and white noise (3)
 * in a gas, as a walk in a full line. Found on simulated holds.
 */
const restFalls = { gas: 1.5, liquid: 1 } as const
/** Largest share of the variance that counts as lasting: some part always falls. */
const mostLasting = 0.97

/**
 * Counts the variance that a longer hold does not reduce as lasting: the part that a leak in moles or millilitres has beyond
 * the drop (volume, stretch, stiffness).
 *
 * @param dropShare width of the interval of the drop over the allowed drop
 * @param judgedShare width of the judged interval over the allowance
 */
export function withLasting(
  variance: ShrinkingVariance,
  dropShare: number,
  judgedShare: number,
): ShrinkingVariance {
  const shared = judgedShare > 0 ? Math.min(1, dropShare / judgedShare) : 1
  return { ...variance, lasting: Math.max(variance.lasting, variance.whole * (1 - shared * shared)) }
}

/** Parts of the variance, each capped at the remainder of the whole, in the order lasting, followed, noise. */
export function partsOf({ white, walk, lasting, whole, followed }: ShrinkingVariance): {
  readonly lasting: number
  readonly followed: number
  readonly noise: number
  readonly rest: number
} {
  const fixed = Math.min(lasting, mostLasting * whole)
  const moved = Math.min((followed?.now ?? 0) ** 2, whole - fixed)
  const noise = Math.min(white + walk, whole - fixed - moved)
  return { lasting: fixed, followed: moved, noise, rest: whole - fixed - moved - noise }
}

/** Variance after another time if the temperature continues as it did. */
function varianceAfter(variance: ShrinkingVariance, times: number): number {
  const { white, walk, followed } = variance
  const parts = partsOf(variance)
  const noise = white + walk > 0 ? parts.noise / (white + walk) : 0
  return (
    parts.lasting +
    parts.followed * (followed === undefined ? 1 : followedAfter(followed, times) ** 2) +
    noise * (white / times ** 3 + walk / times) +
    parts.rest / times ** restFalls[variance.of ?? 'gas']
  )
}

/** Ratio of the followed rate over another time to its present value. */
function followedAfter({ now, late, decay }: FollowedChange, times: number): number {
  if (now <= 0) return 1
  const beyond = decay > 0 ? -Math.expm1(-decay * (times - 1)) / decay : times - 1
  return (now + late * beyond) / now / times
}

/**
 * Additional hold time needed to decide, either way, with the promised probability.
 *
 * After more time the standard error is smaller, and the estimate has moved with the variance that was lost:
 *
 *   P = Φ((A − x − 1.96·s'₊)/m) + Φ((x − A − 1.96·s'₋)/m),  m² = s² − s'²
 *
 * for an estimate x, an allowance A and the two sides of its interval.
 *
 * @param heldS time held so far, [s]
 * @returns seconds, rounded up to ten; null when no reasonable time is enough
 * *Uncertainty* checked on simulated holds (docs/method.md section 4): it may take longer if the temperature changes its
 * trend or the leak is within a tenth of the allowance.
 */
export function secondsMore(
  judged: Estimate,
  allowed: number,
  variance: ShrinkingVariance,
  heldS: number,
  statedS: number,
): number | null {
  const { value, low, high } = judged
  const now = variance.whole
  if (!(now > 0)) return null
  // the interval may be asymmetric: the deciding side counts
  const half = 0.5 * (high - low)
  const [above, below] = half > 0 ? [(high - value) / half, (value - low) / half] : [1, 1]
  const mostS = Math.min(longestS, mostTimes * statedS)
  for (let times = 1 + leastShare; heldS * times <= mostS; times *= 1.02) {
    const after = varianceAfter(variance, times)
    // Variance that only grew decides nothing that is undecided now.
    if (after >= now) continue
    const std = Math.sqrt(after)
    const moves = Math.sqrt(now - after)
    const passes = normalCdf((allowed - value - z95 * above * std) / moves)
    const fails = normalCdf((value - allowed - z95 * below * std) / moves)
    if (passes + fails >= promised) return Math.ceil((heldS * (times - 1)) / 10) * 10
  }
  return null
}

/** Share of the correction that stays uncertain however long the hold. Own figures, from simulated holds. */
const inDoubt = { gas: 0.02, liquid: 0.1 } as const

/** A gauge step above this share of the allowance is coarse (ASTM E2930, scope as read). */
const coarse = 0.1

/** Advice for an undecided section: more time, or another measure. */
export interface TimeToDecide {
  readonly secondsMore: number | null
  /** Null if time helps. */
  readonly otherwise: Reason | null
}

/**
 * Additional seconds that an undecided hold needs, or other measures if no reasonable time is enough.
 *
 * @param fitted with the judged estimate
 * @param holdS start of the judged part, [s]
 * @param untilS its end, [s]
 */
export function timeToDecide(
  section: Section,
  spec: HoldSpec,
  fitted: FittedSection,
  hold: GasHold,
  volumeToleranceM3: number,
  holdS: number,
  untilS: number,
): TimeToDecide {
  const { judged, allowed, allowance } = fitted
  const variance = shrinking(section, spec, fitted, holdS, untilS)
  const seconds = secondsMore(judged, allowed, variance, untilS - holdS, spec.holdS)
  if (seconds !== null) return { secondsMore: seconds, otherwise: null }
  const liquid = isLiquid(section.medium)
  const unstroked = fitted.reasons.some(({ code }) => code === 'liquid-stiffness-unknown')
  return {
    secondsMore: null,
    otherwise: longerWillNotHelp(section, judged, allowed, variance, {
      thermometer: hold.temperatureK === null,
      barometer: hold.barometricPa === null && !liquid,
      // a stroke measures the stiffness: the volume cancels
      volume:
        volumeToleranceM3 > 0 &&
        (spec.allow.kind === 'gas-leak' || (spec.allow.kind === 'liquid-leak' && unstroked)),
      stretch: section.stretchPerPa === null && !liquid,
      stroke: unstroked,
      'fine-gauge': hold.noise.step > coarse * allowance.drop_Pa,
    }),
  }
}

function shrinking(
  section: Section,
  spec: HoldSpec,
  fitted: FittedSection,
  holdS: number,
  untilS: number,
): ShrinkingVariance {
  const { leak, allowance, judged, allowed, curves, variance } = fitted
  const liquid = isLiquid(section.medium)
  const change = followedChange(curves, holdS, untilS, spec.holdS, liquid ? 'range' : 'moves')
  const scale = (inDoubt[liquid ? 'liquid' : 'gas'] * allowed) / allowance.drop_Pa
  return {
    ...withLasting(
      variance,
      (leak.drop_Pa.high - leak.drop_Pa.low) / allowance.drop_Pa,
      (judged.high - judged.low) / allowed,
    ),
    of: liquid ? 'liquid' : 'gas',
    followed: { now: scale * change.now, late: scale * change.late, decay: change.decay },
  }
}

/** Measures for a hold that lacked them, the likeliest first. */
const helps = ['barometer', 'volume', 'stretch', 'stroke', 'fine-gauge'] as const

/** No hold of reasonable length decides a leak within this share of the allowance. Own figure. */
const near = 0.1
/** A cause with at least this share of the variance is named first. */
const leading = 0.3

/** Measures that narrow the interval when time does not, the likeliest first. */
export function longerWillNotHelp(
  section: Section,
  judged: Estimate,
  allowed: number,
  variance: ShrinkingVariance,
  without: Readonly<Record<'thermometer' | (typeof helps)[number], boolean>>,
): Reason {
  const liquid = isLiquid(section.medium)
  const { whole } = variance
  const { lasting, followed } = partsOf(variance)
  const temperature: Help = without.thermometer ? 'thermometer' : liquid ? 'steady-liquid' : 'steady-gas'
  const missing: Help[] = helps.filter((help) => without[help])
  const warm = without.thermometer || followed > leading * whole || lasting < leading * whole
  const help = warm ? [temperature, ...missing] : [...missing, temperature]
  const nearAllowance = Math.abs(judged.value - allowed) < near * Math.abs(allowed)
  return reason('longer-will-not-help', { section: section.id, nearAllowance, help })
}
