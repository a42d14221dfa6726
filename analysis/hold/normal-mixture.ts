import { normalCdf } from '#analysis/numeric/normal-distribution.ts'

/** A weighted sum of normal distributions; weights need not add up to one. */
export interface NormalMixture {
  readonly weight: number[]
  readonly mean: number[]
  readonly std: number[]
}

/** The mixture without parts that together carry less than `negligible` of the weight. */
export function prunedMixture(mixture: NormalMixture, negligible = 1e-7): NormalMixture {
  const total = mixture.weight.reduce((sum, w) => sum + w, 0)
  const order = mixture.weight.map((_, i) => i).sort((a, b) => mixture.weight[b] - mixture.weight[a])
  const weight: number[] = []
  const mean: number[] = []
  const std: number[] = []
  let left = total
  for (const i of order) {
    if (left <= negligible * total) break
    weight.push(mixture.weight[i] / total)
    mean.push(mixture.mean[i])
    std.push(mixture.std[i])
    left -= mixture.weight[i]
  }
  return { weight, mean, std }
}

/** Probability that a draw lies below x. */
export function mixtureCdf(mixture: NormalMixture, x: number): number {
  let below = 0
  let total = 0
  for (let i = 0; i < mixture.weight.length; i++) {
    below += mixture.weight[i] * normalCdf((x - mixture.mean[i]) / mixture.std[i])
    total += mixture.weight[i]
  }
  return below / total
}

/**
 * The x below which a share `probability` of the mixture lies, by bisection to 1e-10 of its spread.
 * @throws RangeError when probability is not inside (0, 1)
 */
export function mixtureQuantile(mixture: NormalMixture, probability: number): number {
  if (!(probability > 0 && probability < 1)) throw new RangeError('probability must lie inside (0, 1)')
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = 0; i < mixture.weight.length; i++) {
    low = Math.min(low, mixture.mean[i] - 9 * mixture.std[i])
    high = Math.max(high, mixture.mean[i] + 9 * mixture.std[i])
  }
  const tolerance = (high - low) * 1e-10
  while (high - low > tolerance) {
    const middle = (low + high) / 2
    if (mixtureCdf(mixture, middle) < probability) low = middle
    else high = middle
  }
  return (low + high) / 2
}

/** Mean and standard deviation of the whole mixture. */
export function mixtureMoments(mixture: NormalMixture): { mean: number; std: number } {
  let total = 0
  let first = 0
  let second = 0
  for (let i = 0; i < mixture.weight.length; i++) {
    total += mixture.weight[i]
    first += mixture.weight[i] * mixture.mean[i]
  }
  const mean = first / total
  for (let i = 0; i < mixture.weight.length; i++) {
    second += mixture.weight[i] * (mixture.std[i] ** 2 + (mixture.mean[i] - mean) ** 2)
  }
  return { mean, std: Math.sqrt(second / total) }
}
