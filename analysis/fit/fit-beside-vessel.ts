import type { Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { mixtureQuantile, type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/pressure-signal.ts'
import type { ReferenceVessel } from '#analysis/signal/reference-vessel.ts'
import type { GasHold, GasRows } from './gas-rows.ts'
import { constants } from './hold-constants.ts'
import { type HoldFit, holdFit } from './hold-fit.ts'
import { gasBeliefs, type HoldBeliefs, unseenWeatherPa } from './hold-model.ts'
import { grownBy } from './uncertainty-budget.ts'

/** A fit of a hold with every temperature source. */
export interface WitnessedFit {
  readonly fit: HoldFit
  /** Share of an unmeasured atmospheric change that remains in the fit. */
  readonly weatherShare: number
  readonly reasons: readonly Reason[]
}

/** Standard errors beyond which the vessel's own change is significant. Own figure. */
const strange = 3
/** Remaining share of unmeasured weather above which the result says so. Own figure. */
const muchWeather = 0.2

/**
 * Fits a hold together with the closed twin vessel beside its section.
 *
 * A closed rigid vessel keeps its moles: d ln p = d ln T. Its gas warms and cools like the section's, without the lag of a
 * wall thermometer. Both gauges see the same atmosphere: an unmeasured weather change δ leaves only δ·(p/p_ref − 1).
 * A leak of the vessel would mask an equal leak of the section. The vessel's pressure is therefore fitted first as a hold
 * with the thermometer. A vessel that departs from the thermometer is left out; otherwise the posterior of its leak is
 * added to the section's.
 *
 * *Holds for* dry gas in a rigid vessel of nearly the section's size and wall. *Source* docs/method.md section 2;
 * the reference-vessel method of pressure hold tests (common practice).
 *
 * @param plain the fit with the thermometer alone
 * @param allowedPa the allowance as a drop, [Pa]
 */
export function fitBesideVessel(
  hold: GasHold,
  plain: HoldFit,
  section: Section,
  spec: HoldSpec,
  allowedPa: number,
): WitnessedFit {
  const without = (reasons: readonly Reason[]): WitnessedFit => ({ fit: plain, weatherShare: 1, reasons })
  const { vessel, cautions } = hold.reference
  if (vessel === null) return without(cautions)
  const own = vesselLeak(hold, vessel, section, spec)
  if (own === null) return without([])
  const { value, std } = own
  if (Math.abs(value) > strange * std) return without([goesItsOwnWay(vessel, value)])
  const weatherShare = weatherLeft(hold, vessel)
  const weather = hold.barometricPa === null ? unknownWeatherPaPerS / hold.testPa : 0
  const rows: GasRows = {
    ...hold.rows,
    vessel: { ...vessel, ratio: hold.testPa / vessel.meanPa, weatherStdPerS: weather },
  }
  const beliefs = gasBeliefs(hold, section, spec)
  const unseen = weatherShare * (unseenWeatherPa(hold, section, spec.holdS) / hold.testPa)
  const strayed = constants.vesselGain * changeInHold(rows, vessel.logPressure)
  const beside = fitOrNull(rows, {
    ...beliefs,
    unseenStd: Math.hypot(vessel.unseen, unseen, strayed),
    unseenWeatherStd: unseen,
  })
  if (beside === null) return without([])
  const sign = spec.pressurePa < 0 ? -1 : 1
  const belief = vesselBelief(sign * value, std, allowedPa / hold.testPa)
  const fit: HoldFit = {
    ...beside,
    drop: unhidden(beside.drop, belief, sign),
    amount: unhidden(beside.amount, belief, sign * beside.middleAmountPerDrop),
  }
  const widened: HoldFit = {
    ...fit,
    variances: (ofAmount) =>
      grownBy(beside.variances(ofAmount), 'vessel', (widthOf(fit) / widthOf(beside)) ** 2),
  }
  // Use the vessel only if it narrows the interval. The choice uses widths alone, so it cannot depend on the
  // estimated leak.
  if (widthOf(fit) >= widthOf(plain)) return without([])
  const used = reason('reference-vessel-used', { channel: vessel.channel })
  return { fit: widened, weatherShare, reasons: [used, ...pressureCaution(hold, vessel)] }
}

/** Change of the vessel's ln p over the hold, for the stated time. */
function changeInHold({ fromS, toS, holdFromS, statedHoldS }: GasRows, logPressure: Float64Array): number {
  const last = toS.length - 1
  const begun = fromS.findIndex((from) => from >= holdFromS)
  const first = Math.min(last - 1, Math.max(0, begun))
  return ((logPressure[last] - logPressure[first]) * statedHoldS) / (toS[last] - fromS[first])
}

/** The fit rejects rows without information, such as those of a dead gauge. */
export function fitOrNull(rows: GasRows, beliefs: HoldBeliefs, quick = false): HoldFit | null {
  try {
    return holdFit(rows, beliefs, quick)
  } catch (cause) {
    if (cause instanceof RangeError) return null
    throw cause
  }
}

/** The vessel's fall of ln p in the stated hold time, corrected for temperature and measured weather, and its error. */
function vesselLeak(
  hold: GasHold,
  { absolutePa, meanPa, variance, unseen }: ReferenceVessel,
  section: Section,
  spec: HoldSpec,
): { value: number; std: number } | null {
  const rigid: Section = { ...section, stretchPerPa: 0 }
  const rows: GasRows = {
    ...hold.rows,
    absolutePa,
    // The vessel's leak is modeled as a constant fall, independent of its gauge pressure.
    gaugePa: absolutePa.map((p) => p - meanPa + spec.pressurePa),
    testPa: meanPa,
    variance: variance.map((v) => Math.max(v, 1e-14)),
  }
  const beliefs = gasBeliefs({ ...hold, rows, testPa: meanPa, absolute: false }, rigid, spec)
  const fit = fitOrNull(rows, { ...beliefs, unseenStd: Math.hypot(beliefs.unseenStd, unseen) })
  if (fit === null) return null
  return { value: mixtureQuantile(fit.drop, 0.5), std: widthOf(fit) / (2 * z95) }
}

/** Width of the 95 % interval of the drop. */
function widthOf({ drop }: HoldFit): number {
  return mixtureQuantile(drop, 0.975) - mixtureQuantile(drop, 0.025)
}

/** Share of an unmeasured change of the atmosphere that does not cancel between section and vessel. */
function weatherLeft({ testPa, absolute }: GasHold, { meanPa }: ReferenceVessel): number {
  return absolute ? testPa / meanPa : Math.abs(testPa / meanPa - 1)
}

function pressureCaution(hold: GasHold, vessel: ReferenceVessel): Reason[] {
  const left = weatherLeft(hold, vessel)
  if (hold.barometricPa !== null || left <= muchWeather) return []
  return [reason('reference-vessel-pressure', { channel: vessel.channel, share: left })]
}

function goesItsOwnWay({ channel, meanPa }: ReferenceVessel, fall: number): Reason {
  const size = Math.abs(fall * meanPa)
  return fall > 0
    ? reason('reference-vessel-fell', { channel, fall_Pa: size })
    : reason('reference-vessel-rose', { channel, rise_Pa: size })
}

/** Prior probability that a closed reference vessel leaks. Own figure, conservative. */
const leakyBelief = 0.3
/** Points of the leak's posterior, and how many standard errors beyond the estimate they reach. */
const points = 16
const reach = 4.5

/**
 * Posterior of a reference vessel's own leak λ, given a fit of its pressure with the thermometer, λ̂ ± σ.
 *
 * Prior: tight (λ = 0), or leaking with λ exponential of mean L. Posterior, by Bayes:
 * w(0) ∝ (1 − b)·N(λ̂; 0, σ), w(λ) ∝ b·e^(−λ/L)/L·N(λ̂; λ, σ).
 *
 * @param found λ̂, [1], fall of ln p in the stated hold time; a suction hold's vessel counts its rise
 * @param std σ, [1], > 0
 * @param usual L, [1], > 0: a leak as large as the section's allowance
 * @returns equidistant points, whose weights sum to one; the first is a tight vessel and has no spread
 * *Check* λ̂ = 0, σ ≪ L: nearly all weight on tight; λ̂ = 4σ: nearly none.
 */
export function vesselBelief(found: number, std: number, usual: number) {
  const step = (Math.max(0, found) + reach * std) / points
  const likelihood = (leak: number): number => Math.exp(-0.5 * (((found - leak) / std) ** 2 - nearest ** 2))
  const nearest = Math.max(0, -found) / std
  const leak = [0]
  const weight = [(1 - leakyBelief) * likelihood(0)]
  const spread = [0]
  for (let i = 0; i < points; i++) {
    const at = (i + 0.5) * step
    leak.push(at)
    weight.push(((leakyBelief * step) / usual) * Math.exp(-at / usual) * likelihood(at))
    spread.push(step / Math.sqrt(12))
  }
  const total = weight.reduce((sum, w) => sum + w, 0)
  return { weight: weight.map((w) => w / total), leak, std: spread }
}

/** Adds the vessel's possible leak to the section's measured leak. */
function unhidden(
  mixture: NormalMixture,
  belief: ReturnType<typeof vesselBelief>,
  scale: number,
): NormalMixture {
  const out: NormalMixture = { weight: [], mean: [], std: [] }
  mixture.weight.forEach((w, i) => {
    belief.weight.forEach((share, k) => {
      if (share < 1e-7) return
      out.weight.push(w * share)
      out.mean.push(mixture.mean[i] + scale * belief.leak[k])
      out.std.push(Math.hypot(mixture.std[i], scale * belief.std[k]))
    })
  })
  return prunedMixture(out)
}
