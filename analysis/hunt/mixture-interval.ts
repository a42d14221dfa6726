import { normalCdf } from '#analysis/numeric/normal-distribution.ts'

interface Piece {
  readonly weight: number
  readonly mean: number
  readonly std: number
}

/** The heaviest this many pieces fix the interval to far more digits than are shown. */
const mostPieces = 200

/** Median and central 95 % interval of a weighted mixture of normals; weights need not sum to 1. */
export function normalMixtureInterval(all: readonly Piece[]): { value: number; low: number; high: number } {
  const pieces =
    all.length <= mostPieces ? all : [...all].sort((a, b) => b.weight - a.weight).slice(0, mostPieces)
  const total = pieces.reduce((sum, p) => sum + p.weight, 0)
  const top = Math.max(...pieces.map((p) => p.mean + 6 * p.std))
  const below = (x: number): number =>
    pieces.reduce(
      (sum, p) => sum + p.weight * (p.std > 0 ? normalCdf((x - p.mean) / p.std) : Number(x >= p.mean)),
      0,
    ) / total
  const quantile = (q: number): number => {
    let low = 0
    let high = top
    for (let i = 0; i < 40; i++) {
      const middle = (low + high) / 2
      if (below(middle) < q) low = middle
      else high = middle
    }
    return (low + high) / 2
  }
  return { value: quantile(0.5), low: quantile(0.025), high: quantile(0.975) }
}
