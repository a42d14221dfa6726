import { type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'

/** Belief before the hold that a closed reference vessel leaks. Own figure, on the wary side. */
const leakyBelief = 0.3
/** Points of a leak's belief, and how many standard errors beyond the estimate they reach. */
const points = 16
const reach = 4.5

/** What a vessel's own leak is believed to be, as points of equal distance; `weight` adds up to one. */
export interface VesselBelief {
  readonly weight: readonly number[]
  readonly leak: readonly number[]
  /** Spread about each point; the first stands for a tight vessel and has none. */
  readonly std: readonly number[]
}

/**
 * Belief in a reference vessel's own leak λ after a fit of its pressure beside the thermometer found λ̂ ± σ.
 *
 * Before: tight (λ = 0), or leaking with λ exponential of mean L; after, by Bayes:
 * w(0) ∝ (1 − b)·N(λ̂; 0, σ), w(λ) ∝ b·e^(−λ/L)/L·N(λ̂; λ, σ).
 *
 * @param found λ̂, [1], fall of ln p in the stated hold time; a suction hold's vessel counts its rise
 * @param std σ, [1], > 0
 * @param usual L, [1], > 0: a leak worth the section's allowance
 * *Check* λ̂ = 0, σ ≪ L: nearly all of it tight; λ̂ = 4σ: nearly none.
 */
export function vesselBelief(found: number, std: number, usual: number): VesselBelief {
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

/** Adds what the vessel may have hidden to a leak that was measured beside it. */
export function unhidden(mixture: NormalMixture, belief: VesselBelief, scale: number): NormalMixture {
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
