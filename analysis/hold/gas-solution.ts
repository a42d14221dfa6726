import { factorLower, logDeterminant, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'
import { baseColumns, type GasRows, type GasShape, place } from './gas-columns.ts'
import {
  flowExponentStd,
  type GainBelief,
  type GasBeliefs,
  type StretchBelief,
  stiffnessBelief,
} from './gas-priors.ts'

/** A faint hold on the creep keeps the factor positive; it stands for a flat belief. */
const faintCreepPrecision = 1e-2

/** Unknowns of one node: the base columns and one creep. */
export const gasUnknowns = baseColumns + 1

/** The solution of one node under its beliefs. */
export interface GasSolution {
  readonly factor: Float64Array
  readonly solution: Float64Array
  /** Log-density of the data with the creep left free, all else summed over, without the noise determinant. */
  readonly logDensity: number
}

/** Everything of a node but its creep: one factor serves all creep time constants. */
export interface GasNode {
  /**
   * The solution with one of the creep columns, in arrays that the next call writes over; null where the matrix is not
   * positive definite.
   */
  withCreep(creepIndex: number): GasSolution | null
}

/**
 * Adds the beliefs to the sums and factors what does not depend on the creep; null when that is not positive definite.
 *
 * @param sums cross products of the columns, the response last, lower triangle by rows of `stride`
 */
export function gasNode(
  sums: Float64Array,
  stride: number,
  shape: GasShape,
  stretch: StretchBelief,
  rows: GasRows,
  beliefs: GasBeliefs,
  gain: GainBelief,
): GasNode | null {
  const response = stride - 1
  const heat = beliefs.fullHeat
  const wall = shape.thermometer === 'wall'
  const stiffness = stiffnessBelief(stretch, rows.testPa, rows.testGaugePa)
  const gainStd = Math.hypot(gain.std, (gain.mean * stiffness.std) / stiffness.mean)
  const precision = [
    1,
    1 / (0.5 * heat) ** 2,
    1 / (0.02 * heat) ** 2,
    1 / 0.8 ** 2,
    1 / gainStd ** 2,
    1 / Math.hypot(stiffness.std, 0.01) ** 2,
    1 / flowExponentStd ** 2,
    1 / beliefs.dropStd ** 2,
  ]
  const center = [0, wall ? 0.3 * heat : 0, 0, 0.5 * gain.mean, gain.mean, 0, 0, 0]
  const base = new Float64Array(baseColumns * baseColumns)
  const half = new Float64Array(baseColumns)
  let priorSquares = 0
  let priorLogDeterminant = 0
  for (let r = 0; r < baseColumns; r++) {
    for (let c = 0; c < r; c++) base[r * baseColumns + c] = sums[r * stride + c]
    base[r * baseColumns + r] = sums[r * stride + r] + precision[r]
    half[r] = sums[response * stride + r] + precision[r] * center[r]
    priorSquares += precision[r] * center[r] ** 2
    priorLogDeterminant += Math.log(precision[r])
  }
  if (!factorLower(base, baseColumns)) return null
  solveLower(base, baseColumns, half, half)
  const fitted = half.reduce((sum, value) => sum + value ** 2, 0)
  const misfit = sums[response * stride + response] + priorSquares - fitted
  const baseLogDensity =
    0.5 * (priorLogDeterminant - logDeterminant(base, baseColumns) + Math.log(2 * Math.PI) - misfit)
  const n = gasUnknowns
  const factor = new Float64Array(n * n)
  const solution = new Float64Array(n)
  for (let r = 0; r < baseColumns; r++)
    for (let c = 0; c <= r; c++) factor[r * n + c] = base[r * baseColumns + c]
  return {
    withCreep(creepIndex) {
      const row = (baseColumns + creepIndex) * stride
      let rest = sums[row + baseColumns + creepIndex] + faintCreepPrecision
      let right = sums[response * stride + baseColumns + creepIndex]
      for (let r = 0; r < baseColumns; r++) {
        let product = sums[row + r]
        for (let c = 0; c < r; c++) product -= factor[place.creep * n + c] * factor[r * n + c]
        const last = product / factor[r * n + r]
        factor[place.creep * n + r] = last
        rest -= last ** 2
        right -= last * half[r]
        solution[r] = half[r]
      }
      if (!(rest > 0)) return null
      const pivot = Math.sqrt(rest)
      factor[n * n - 1] = pivot
      solution[place.creep] = right / pivot
      const logDensity = baseLogDensity + 0.5 * solution[place.creep] ** 2 - Math.log(pivot)
      solveUpper(factor, n, solution, solution)
      return { factor, solution, logDensity }
    },
  }
}
