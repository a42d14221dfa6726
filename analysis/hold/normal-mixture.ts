import { findRoot } from '#analysis/numeric/find-root.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'

/** A weighted sum of normal distributions; weights need not add up to one. */
export interface NormalMixture {
  readonly weight: number[]
  readonly mean: number[]
  readonly std: number[]
}

/** The mixture with nearly equal parts put together and the lightest left out; weights add up to one. */
export function prunedMixture(mixture: NormalMixture, negligible = 1e-6): NormalMixture {
  const cells = new Map<number, { weight: number; first: number; second: number }>()
  let total = 0
  for (let i = 0; i < mixture.weight.length; i++) {
    const w = mixture.weight[i]
    const m = mixture.mean[i]
    const s = mixture.std[i]
    const scale = Math.round(Math.log(s) * 12)
    const key = scale * 2 ** 32 + Math.round(m / (Math.exp(scale / 12) * 0.1))
    const cell = cells.get(key) ?? { weight: 0, first: 0, second: 0 }
    cell.weight += w
    cell.first += w * m
    cell.second += w * (s * s + m * m)
    cells.set(key, cell)
    total += w
  }
  const sorted = [...cells.values()].sort((a, b) => b.weight - a.weight)
  const weight: number[] = []
  const mean: number[] = []
  const std: number[] = []
  let left = total
  for (const cell of sorted) {
    if (left <= negligible * total) break
    const m = cell.first / cell.weight
    weight.push(cell.weight / total)
    mean.push(m)
    std.push(Math.sqrt(Math.max(cell.second / cell.weight - m * m, 1e-24)))
    left -= cell.weight
  }
  return { weight, mean, std }
}

/** Probability that a draw lies below x. */
function mixtureCdf(mixture: NormalMixture, x: number): number {
  let below = 0
  let total = 0
  for (let i = 0; i < mixture.weight.length; i++) {
    below += mixture.weight[i] * normalCdf((x - mixture.mean[i]) / mixture.std[i])
    total += mixture.weight[i]
  }
  return below / total
}

/**
 * The x below which a share `probability` of the mixture lies, to 1e-10 of its spread.
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
  return findRoot((x) => mixtureCdf(mixture, x) - probability, low, high, (high - low) * 1e-10)
}
