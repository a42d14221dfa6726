import type { GasHold } from '#analysis/fit/gas-rows.ts'
import type { Estimate, Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { normalCdf, z95 } from '#analysis/numeric/normal-distribution.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { Help } from '#analysis/reasons/phrases.ts'
import { type FollowedChange, followedChange } from '#analysis/signal/followed-change.ts'
import type { FittedSection, ShrinkingVariance } from './fitted-section.ts'

/** Nobody holds for longer than this many stated times, or this long, to decide one verdict. */
const mostTimes = 8
const longestS = 6 * 3600
/** Less than this share more is no advice. */
const leastShare = 0.1
/** Chance of a verdict that a figure promises, as reckoned; of simulated holds 8 in 10 decide. Own figure. */
const promised = 0.7
/**
 * Power of the time with which the variance falls that heat, creep and temperature leave: between a walk (1) and white
 * noise (3) in a gas, as a walk's in a full line. Found on simulated holds.
 */
const restFalls = { gas: 1.5, liquid: 1 } as const
/** Share of the variance that may count as lasting: some always falls. */
const mostLasting = 0.97

/**
 * The variance with what a longer hold does not measure counted as lasting: what a leak in moles or millilitres has beyond the
 * drop (volume, stretch, stiffness).
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

/** Parts of the variance, none larger than is left of the whole; found in the order lasting, followed, noise. */
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

/** Variance after another time, the temperature going on as it did. */
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

/** What is followed as a rate over another time, over what it is now. */
function followedAfter({ now, late, decay }: FollowedChange, times: number): number {
  if (now <= 0) return 1
  const beyond = decay > 0 ? -Math.expm1(-decay * (times - 1)) / decay : times - 1
  return (now + late * beyond) / now / times
}

/**
 * How much longer a hold would have to last to be decided, either way, with the chance that is promised.
 *
 * After another time the standard error is smaller, and the estimate will have moved by what its variance lost:
 *
 *   P = Φ((A − x − 1.96·s'₊)/m) + Φ((x − A − 1.96·s'₋)/m),  m² = s² − s'²
 *
 * for an estimate x, an allowance A and the two sides of its interval.
 *
 * @param heldS time held so far, [s]
 * @returns seconds, rounded up to ten; null when no reasonable time would do
 * *Uncertainty* checked on simulated holds (docs/method.md section 4): where the temperature goes another way than it did, or
 * the leak is within a tenth of the allowance, it may take longer.
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
  // the interval may be lopsided: the side that decides counts
  const half = 0.5 * (high - low)
  const [above, below] = half > 0 ? [(high - value) / half, (value - low) / half] : [1, 1]
  const mostS = Math.min(longestS, mostTimes * statedS)
  for (let times = 1 + leastShare; heldS * times <= mostS; times *= 1.02) {
    const after = varianceAfter(variance, times)
    const std = Math.sqrt(after)
    const moves = Math.sqrt(Math.max(1e-12 * now, now - after))
    const passes = normalCdf((allowed - value - z95 * above * std) / moves)
    const fails = normalCdf((value - allowed - z95 * below * std) / moves)
    if (passes + fails >= promised) return Math.ceil((heldS * (times - 1)) / 10) * 10
  }
  return null
}

/** Share of what was corrected that stays in doubt however long it is held. Own figures, from simulated holds. */
const inDoubt = { gas: 0.02, liquid: 0.1 } as const

/** A step above this share of the allowance is coarse (ASTM E2930, scope as read). */
const coarse = 0.1

/** An undecided section: how much longer would decide it, or what else. */
export interface TimeToDecide {
  readonly secondsMore: number | null
  /** Null where time helps. */
  readonly otherwise: Reason | null
}

/**
 * Seconds more that an undecided hold needs; where no reasonable time would do, what else would help.
 *
 * @param fitted with its estimate as it is judged
 * @param holdS start of what was held, [s]
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
      // a stroke measures the stiffness itself: the volume cancels
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

/** What can help where a hold went without it, the likeliest first. */
const helps = ['barometer', 'volume', 'stretch', 'stroke', 'fine-gauge'] as const

/** A leak that is as near to the allowance as this share of it is judged by no hold of a reasonable length. Own figure. */
const near = 0.1
/** A cause is named first when it makes this share of the variance. */
const leading = 0.3

/** What would narrow the interval where time does not, the likeliest first. */
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
  const told: Help[] = helps.filter((help) => without[help])
  const warm = without.thermometer || followed > leading * whole || lasting < leading * whole
  const help = warm ? [temperature, ...told] : [...told, temperature]
  const nearAllowance = Math.abs(judged.value - allowed) < near * Math.abs(allowed)
  return reason('longer-will-not-help', { section: section.id, nearAllowance, help })
}
