import type { Estimate } from '#analysis/model/hold-result.ts'

/** Standard errors that bound a 95 % interval. */
const z95 = 1.959963984540054
/** Nobody holds for longer than this many stated times, or this long, to decide one verdict. */
const mostTimes = 8
const longestS = 6 * 3600
/** Standard errors by which the estimate may still move against the verdict: two holds in five move more. Own figure. */
const stillMoves = 0.25
/**
 * Power of the time with which the variance falls that heat, creep and temperature leave: the median of simulated holds was
 * 0.8, and most of those that a longer hold can decide fell as fast. Own figure.
 */
const slowly = 0.7
/** Share of a followed change of temperature that stays in doubt however long it is followed. Own figure. */
const followedInDoubt = 0.08

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
}

/** Variance after another time, the temperature going on as it did. */
function varianceAfter(variance: ShrinkingVariance, times: number): number {
  const { white, walk, lasting, whole } = variance
  const fixed = Math.min(lasting, 0.9 * whole)
  const known = Math.min(white + walk, whole - fixed)
  const scale = white + walk > 0 ? known / (white + walk) : 0
  const rest = whole - fixed - known
  return fixed + (scale * white) / times ** 3 + (scale * walk) / times + rest / times ** slowly
}

/**
 * The variance with what a longer hold does not measure counted as lasting: what a leak in moles or millilitres has beyond the
 * drop (volume, stretch, stiffness), and a share of the temperature's change, which goes on as it did.
 *
 * @param dropShare width of the interval of the drop over the allowed drop
 * @param judgedShare width of the judged interval over the allowance
 * @param followed what the change of temperature was worth, in the judged unit
 */
export function withLasting(
  variance: ShrinkingVariance,
  dropShare: number,
  judgedShare: number,
  followed: number,
): ShrinkingVariance {
  const shared = judgedShare > 0 ? Math.min(1, dropShare / judgedShare) : 1
  const beyond = variance.whole * (1 - shared * shared)
  return { ...variance, lasting: Math.max(variance.lasting, beyond) + (followedInDoubt * followed) ** 2 }
}

/**
 * How much longer a hold would have to last for its interval to leave the allowance, four times in five.
 *
 * The end of the interval that stands over the allowance has to come down past it (for a leak that seems too large, the other
 * end up), while the estimate itself still moves by what its variance loses.
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
  const room = Math.abs(judged.value - allowed)
  const now = Math.sqrt(variance.whole)
  const side = judged.value < allowed ? judged.high - judged.value : judged.value - judged.low
  // the interval may be lopsided: the side that decides counts
  const lopsided = now > 0 ? side / (0.5 * (judged.high - judged.low)) : 1
  const mostS = Math.min(longestS, mostTimes * statedS)
  for (let times = 1.02; heldS * times <= mostS; times *= 1.02) {
    const after = varianceAfter(variance, times)
    const moves = stillMoves * Math.sqrt(Math.max(0, variance.whole - after))
    if (lopsided * (z95 * Math.sqrt(after) + moves) < room) return Math.ceil((heldS * (times - 1)) / 10) * 10
  }
  return null
}
