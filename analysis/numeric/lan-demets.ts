import { findRoot } from './find-root.ts'
import { normalCdf, normalQuantile } from './normal-distribution.ts'

const CELLS = 400

/** Error spent up to a share of the information, O'Brien–Fleming type, one side. */
function spent(share: number, alphaOneSide: number): number {
  return 2 * (1 - normalCdf(normalQuantile(1 - alphaOneSide / 2) / Math.sqrt(Math.min(1, share))))
}

/** Values of a density on an even grid, with Simpson weights folded in. */
interface GridDensity {
  readonly points: Float64Array
  readonly mass: Float64Array
}

function gridOver(limit: number, density: (x: number) => number): GridDensity {
  const points = new Float64Array(CELLS + 1)
  const mass = new Float64Array(CELLS + 1)
  const width = (2 * limit) / CELLS
  for (let i = 0; i <= CELLS; i++) {
    points[i] = -limit + i * width
    const weight = i === 0 || i === CELLS ? 1 : i % 2 === 1 ? 4 : 2
    mass[i] = (density(points[i]) * weight * width) / 3
  }
  return { points, mass }
}

function exceed(before: GridDensity, limit: number, std: number): number {
  let total = 0
  for (let i = 0; i <= CELLS; i++) {
    total += before.mass[i] * normalCdf((before.points[i] - limit) / std)
  }
  return total
}

/**
 * Bounds for z at looks fixed beforehand that together keep a two-sided error rate (Lan–DeMets spending of
 * O'Brien–Fleming type): very strict at first, nearly the fixed-sample value at the last look.
 *
 * @param shares information at each look over that at the last, ascending, 0 < s ≤ 1
 * @param alpha two-sided error rate over all looks
 * @returns one bound for |z| at each look
 * @throws RangeError when the shares do not ascend
 *
 * Source: [lan-demets-1983], integration after [armitage-1969]
 * Check: five even looks at 0.05: 4.8769 3.3569 2.6803 2.2898 2.0310 (published)
 */
export function lanDeMetsBounds(shares: readonly number[], alpha: number): number[] {
  const bounds: number[] = []
  const oneSide = alpha / 2
  let before: GridDensity | null = null
  let previous = 0
  for (const share of shares) {
    if (!(share > previous && share <= 1)) {
      throw new RangeError('lanDeMetsBounds needs ascending shares above 0 and at most 1')
    }
    const toSpend = spent(share, oneSide) - (previous === 0 ? 0 : spent(previous, oneSide))
    const std = Math.sqrt(share - previous)
    const reached: GridDensity | null = before
    const limit =
      reached === null
        ? -normalQuantile(toSpend) * std
        : findRoot((x) => exceed(reached, x, std) - toSpend, 0, 10 * Math.sqrt(share), 1e-10)
    bounds.push(limit / Math.sqrt(share))
    const density = (x: number, from: number) =>
      Math.exp(-0.5 * ((x - from) / std) ** 2) / (std * Math.sqrt(2 * Math.PI))
    before = gridOver(limit, (x) => {
      if (reached === null) return density(x, 0)
      let total = 0
      for (let i = 0; i <= CELLS; i++) total += reached.mass[i] * density(x, reached.points[i])
      return total
    })
    previous = share
  }
  return bounds
}
