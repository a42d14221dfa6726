import { memoize } from './memoize.ts'
import { normalCdf, normalDensity, normalQuantile } from './normal-distribution.ts'

/** A weighted sum of normal distributions; weights need not add up to one. */
export interface NormalMixture {
  readonly weight: number[]
  readonly mean: number[]
  readonly std: number[]
}

/** The mixture with nearly equal parts merged and the lightest dropped; weights sum to one. */
export function prunedMixture(
  mixture: Readonly<Record<keyof NormalMixture, ArrayLike<number>>>,
  negligible = 1e-6,
): NormalMixture {
  const alike = memoize((scale: number) => ({
    width: Math.exp(scale / 12) * 0.1,
    cells: new Map<number, (typeof cells)[number]>(),
  }))
  const cells: { weight: number; first: number; second: number }[] = []
  let total = 0
  for (let i = 0; i < mixture.weight.length; i++) {
    const w = mixture.weight[i]
    const m = mixture.mean[i]
    const s = mixture.std[i]
    const near = alike(Math.round(Math.log(s) * 12))
    const place = Math.round(m / near.width)
    let cell = near.cells.get(place)
    if (cell === undefined) {
      cell = { weight: 0, first: 0, second: 0 }
      near.cells.set(place, cell)
      cells.push(cell)
    }
    cell.weight += w
    cell.first += w * m
    cell.second += w * (s * s + m * m)
    total += w
  }
  const sorted = cells.sort((a, b) => b.weight - a.weight)
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

/**
 * The x below which a share `probability` of the mixture lies, to 1e-12 of its spread: Newton steps inside a bracket.
 * @throws RangeError when probability is not inside (0, 1), or the mixture is not finite
 */
export function mixtureQuantile({ weight, mean, std }: NormalMixture, probability: number): number {
  if (!(probability > 0 && probability < 1)) throw new RangeError('probability must lie inside (0, 1)')
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let total = 0
  let first = 0
  let second = 0
  for (let i = 0; i < weight.length; i++) {
    low = Math.min(low, mean[i] - 9 * std[i])
    high = Math.max(high, mean[i] + 9 * std[i])
    total += weight[i]
    first += weight[i] * mean[i]
    second += weight[i] * (mean[i] ** 2 + std[i] ** 2)
  }
  if (!Number.isFinite(high - low)) throw new RangeError('a mixture needs finite means and spreads')
  const close = 1e-12 * (high - low)
  const middle = first / total
  const spread = Math.sqrt(Math.max(0, second / total - middle ** 2))
  let x = Math.min(high, Math.max(low, middle + spread * normalQuantile(probability)))
  while (high - low > close) {
    let below = 0
    let density = 0
    for (let i = 0; i < weight.length; i++) {
      const z = (x - mean[i]) / std[i]
      below += weight[i] * normalCdf(z)
      density += (weight[i] * normalDensity(z)) / std[i]
    }
    const over = below / total - probability
    if (over > 0) high = x
    else low = x
    const next = x - (over * total) / density
    if (Math.abs(next - x) <= close) return next
    x = next > low && next < high ? next : (low + high) / 2
  }
  return x
}
