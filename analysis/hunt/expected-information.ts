import { normalCdf } from '#analysis/numeric/normal-distribution.ts'

/** Chances of the outcomes of one observation, given one possible present. They sum to 1. */
export type OutcomeChances = readonly number[]

/**
 * Information that a step is expected to give about the present, I = H(outcome) − E[H(outcome | present)], [bit].
 *
 * @param weights of the possible presents, summing to 1.
 * @param observations for each present, the outcome chances of each independent observation of the step.
 * *Source*: Shannon 1948.
 * *Check*: four fittings, a pair, docs/method.md section 7: 0.71359 bit (computed, exact).
 */
export function expectedInformation(
  weights: readonly number[],
  observations: readonly (readonly OutcomeChances[])[],
): number {
  const joint = new Float64Array(jointChances(observations[0] ?? []).length)
  let conditional = 0
  weights.forEach((weight, s) => {
    const chances = jointChances(observations[s])
    for (let o = 0; o < joint.length; o++) joint[o] += weight * chances[o]
    for (const each of observations[s]) conditional += weight * entropy(each)
  })
  return Math.max(0, entropy(joint) - conditional)
}

/** Chances of every combination of outcomes. */
export function jointChances(observations: readonly OutcomeChances[]): OutcomeChances {
  let joint: readonly number[] = observations[0] ?? [1]
  for (let i = 1; i < observations.length; i++) {
    const each = observations[i]
    joint = joint.flatMap((p) => each.map((q) => p * q))
  }
  return joint
}

/** Chances of `[all tight, only the first leaks, …, only the last, several]` from the chances that each is tight. */
export function whichOne(tight: readonly number[]): OutcomeChances {
  const chances: number[] = [1]
  for (const t of tight) chances[0] *= t
  let sum = 0
  for (let i = 0; i < tight.length; i++) {
    let product = 1
    for (let j = 0; j < tight.length; j++) product *= i === j ? 1 - tight[j] : tight[j]
    chances.push(product)
    sum += product
  }
  chances.push(Math.max(0, 1 - chances[0] - sum))
  return chances
}

/** [bit]. */
function entropy(chances: ArrayLike<number>): number {
  let bits = 0
  for (let i = 0; i < chances.length; i++) if (chances[i] > 0) bits -= chances[i] * Math.log2(chances[i])
  return bits
}

const tableStep = 0.01
const tableEnd = 6
const table = Float64Array.from({ length: (2 * tableEnd) / tableStep + 1 }, (_, i) =>
  normalCdf(i * tableStep - tableEnd),
)

/** Standard normal distribution function to 1e-5, by table: planning asks it a million times. */
export function roughNormalCdf(z: number): number {
  if (!(z > -tableEnd)) return 0
  if (z >= tableEnd) return 1
  const at = (z + tableEnd) / tableStep
  const i = Math.floor(at)
  return table[i] + (at - i) * (table[i + 1] - table[i])
}
