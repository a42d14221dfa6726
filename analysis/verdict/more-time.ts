import type { Estimate } from '#analysis/model/hold-result.ts'
import { normalCdf, z95 } from '#analysis/numeric/normal-distribution.ts'
import type { FollowedChange } from '#analysis/signal/followed-change.ts'

/** Standard errors that bound a 95 % interval. */
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

/** How the variance of a leak rate goes down as a hold goes on; all parts at the time already held. */
export interface ShrinkingVariance {
  /** White noise of the readings: falls with the third power of the time. */
  readonly white: number
  /** Random walk of the sensor: falls with the time. */
  readonly walk: number
  /** What time does not shrink: unknown weather, volume, the leak law. */
  readonly lasting: number
  /** All of it; what is in none of the parts (heat, creep, temperature) falls slowly. */
  readonly whole: number
  /** Of a gas where it is left out. */
  readonly of?: 'gas' | 'liquid'
  /** What was corrected, as a standard error: it goes on with what moves. */
  readonly followed?: FollowedChange
}

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
