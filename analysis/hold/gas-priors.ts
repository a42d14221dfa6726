import type { Section } from '#analysis/model/system.ts'

/** Stiffness of a section as the pressure feels it: 1 for a rigid volume, less for one that breathes. */
export interface StiffnessBelief {
  readonly weight: number
  /** d ln p / d ln n at the test pressure, dimensionless. */
  readonly mean: number
  readonly std: number
  /** V(p)/V₀ at the test pressure that goes with it. */
  readonly growth: number
}

/** How much more than the thermometer the gas swings: 1 for a faithful thermometer. */
export interface GainBelief {
  readonly weight: number
  readonly mean: number
  readonly std: number
}

/**
 * d ln p / d ln n of a volume V = V₀(1 + κ·g): 1 / (1 + κ·p/(1 + κ·g)).
 *
 * @param stretchPerPa κ, [1/Pa], ≥ 0
 * @param absolutePa p, [Pa]
 * @param gaugePa g, [Pa]
 * *Source* method.md section 2, elastic volume. *Check* κ = 0 gives 1.
 */
export function stiffnessOf(stretchPerPa: number, absolutePa: number, gaugePa: number): number {
  return 1 / (1 + (stretchPerPa * absolutePa) / (1 + stretchPerPa * gaugePa))
}

/** Above this volume a section of unknown kind is taken for a tank, [m³]. */
export const smallestTankM3 = 5e-3

/** Whether a section behaves as a tank: as the file says, else by its volume. */
export function isTank(section: Pick<Section, 'kind' | 'volumeM3'>): boolean {
  return section.kind === null ? section.volumeM3 > smallestTankM3 : section.kind === 'tank'
}

// Unstated stretch: share of belief and κ in 1/bar. A line is most likely stiff, a sheet tank most likely not.
// The largest, 200 % per bar, halves a tank's temperature response twice over (common practice, method.md section 1).
const unstatedLine: readonly (readonly [weight: number, perBar: number, relativeStd: number])[] = [
  [0.6, 0.01, 1],
  [0.12, 0.06, 0.5],
  [0.1, 0.2, 0.45],
  [0.08, 0.5, 0.35],
  [0.06, 1.0, 0.3],
  [0.04, 1.8, 0.25],
]
const unstatedTank: readonly (readonly [weight: number, perBar: number, relativeStd: number])[] = [
  [0.3, 0.01, 1],
  [0.08, 0.06, 0.5],
  [0.12, 0.2, 0.45],
  [0.16, 0.5, 0.35],
  [0.18, 1.0, 0.3],
  [0.16, 1.8, 0.25],
]

/** What is believed of the stiffness before the hold, from the system file. */
export function stiffnessBeliefs(section: Section, absolutePa: number, gaugePa: number): StiffnessBelief[] {
  const belief = (weight: number, stretchPerPa: number, stretchStd: number): StiffnessBelief => {
    const mean = stiffnessOf(stretchPerPa, absolutePa, gaugePa)
    const stiffer = stiffnessOf(Math.max(0, stretchPerPa - stretchStd), absolutePa, gaugePa)
    const softer = stiffnessOf(stretchPerPa + stretchStd, absolutePa, gaugePa)
    return { weight, mean, std: Math.max(0.005, (stiffer - softer) / 2), growth: 1 + stretchPerPa * gaugePa }
  }
  if (section.stretchPerPa !== null) {
    const stated = Math.max(0, section.stretchPerPa)
    return [belief(1, stated, 0.1 * stated)]
  }
  const table = isTank(section) ? unstatedTank : unstatedLine
  return table.map(([weight, perBar, relative]) => belief(weight, perBar / 1e5, (relative * perBar) / 1e5))
}

/** A thermometer is mostly faithful; one on the outside of a fitting may read only three quarters of the swing. */
export const gainBeliefs: readonly GainBelief[] = [
  { weight: 0.6, mean: 1.0, std: 0.05 },
  { weight: 0.4, mean: 1.2, std: 0.12 },
]

/** Gas-to-wall time constants worth trying, [s]: seconds for a line, minutes for a tank. */
export function lagLadderS(volumeM3: number): number[] {
  // Conduction time grows with the square of the size, convection slows the growth (common practice).
  const middle = volumeM3 > smallestTankM3 ? 300 : 25
  return [-4, -3, -2, -1, 0, 1, 2, 3, 4].map((k) => middle * 1.6 ** k)
}
