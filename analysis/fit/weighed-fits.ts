import { type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'
import type { GasFit } from './gas-fit.ts'

/** Belief that the thermometer of the section tells its gas temperature better than a twin vessel does. Own figure. */
const thermometerBelief = 0.1

/** Two fits of the same readings as one. */
export interface WeighedFits {
  readonly fit: GasFit
  /** Belief in the second, 0 to 1. */
  readonly share: number
}

/**
 * Fits of the same pressure by two witnesses of the temperature, weighed by how well each explains it.
 *
 * share = w₂·L₂/(w₁·L₁ + w₂·L₂) with L the likelihood at each fit's best.
 * *Source* Bayesian model averaging (common practice), the best node standing for all of its fit.
 *
 * @param thermometer the fit beside the thermometer
 * @param vessel the fit beside the reference vessel
 */
export function weighedFits(thermometer: GasFit, vessel: GasFit): WeighedFits {
  const odds =
    ((1 - thermometerBelief) / thermometerBelief) *
    Math.exp(Math.min(600, vessel.best.logWeight - thermometer.best.logWeight))
  const share = odds / (1 + odds)
  const lead = share > 0.5 ? vessel : thermometer
  return {
    share,
    fit: {
      drop: joined(thermometer.drop, vessel.drop, share),
      moles: joined(thermometer.moles, vessel.moles, share),
      middleMolesPerDrop: lead.middleMolesPerDrop,
      best: lead.best,
    },
  }
}

function joined(a: NormalMixture, b: NormalMixture, share: number): NormalMixture {
  return prunedMixture({
    weight: [...a.weight.map((w) => w * (1 - share)), ...b.weight.map((w) => w * share)],
    mean: [...a.mean, ...b.mean],
    std: [...a.std, ...b.std],
  })
}
