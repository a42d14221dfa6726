import { findRoot } from './find-root.ts'
import { normalCdf } from './normal-distribution.ts'

export interface ConformityTest {
  /** Prior density of what is measured. */
  readonly density: (value: number) => number
  /** Range outside which the prior is negligible. */
  readonly support: readonly [low: number, high: number]
  /** Largest value that conforms. */
  readonly limit: number
  /** Standard uncertainty of the measurement, > 0. */
  readonly std: number
}

const CELLS = 4000

function integrate(f: (x: number) => number, low: number, high: number): number {
  const width = (high - low) / CELLS
  let total = f(low) + f(high)
  for (let i = 1; i < CELLS; i++) total += f(low + i * width) * (i % 2 === 1 ? 4 : 2)
  return (total * width) / 3
}

/**
 * Probability that a thing is accepted and does not conform: ∫ over values beyond the limit of prior density times the
 * chance that the reading still falls under the acceptance limit.
 *
 * @param test prior, limit and measurement
 * @param acceptance largest reading that is accepted
 * Source: [jcgm-106] 9.3.2
 * Check: [jcgm-106] 9.5.4: gamma(4, 1/4) prior, limit 2, u 0.25, acceptance 2 → 0.8019 %
 */
export function consumersRisk(test: ConformityTest, acceptance: number): number {
  return integrate(
    (value) => test.density(value) * normalCdf((acceptance - value) / test.std),
    test.limit,
    test.support[1],
  )
}

/** Probability that a thing is rejected and does conform. Source: [jcgm-106] 9.3.2 */
export function producersRisk(test: ConformityTest, acceptance: number): number {
  return integrate(
    (value) => test.density(value) * normalCdf((value - acceptance) / test.std),
    test.support[0],
    test.limit,
  )
}

/**
 * Acceptance limit that keeps the consumer's risk at a wanted value: the limit less the guard band.
 *
 * Check: [jcgm-106] 9.5.4: for 0.1 % accept at 1.67183 (computed)
 */
export function acceptanceLimit(test: ConformityTest, risk: number): number {
  return findRoot(
    (acceptance) => consumersRisk(test, acceptance) - risk,
    test.limit - 10 * test.std,
    test.limit + 10 * test.std,
    1e-10,
  )
}
