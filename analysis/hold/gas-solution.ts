import { factorLower, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'
import { baseColumns, type GasRows, type GasShape, place } from './gas-columns.ts'
import {
  flowExponentStd,
  type GainBelief,
  type GasBeliefs,
  type StretchBelief,
  stiffnessBelief,
} from './gas-priors.ts'

/** Unknowns of one node: the base columns and one creep. */
export const gasUnknowns = baseColumns + 1

/** The solution of one node under its beliefs. */
export interface GasSolution {
  readonly factor: Float64Array
  readonly solution: Float64Array
  /** Log-density of the data with the creep left free, all else summed over, without the noise determinant. */
  readonly logDensity: number
}

/** Adds the beliefs to the sums and solves; null when the matrix is not positive definite. */
export function solveGasNode(
  sums: Float64Array,
  stride: number,
  creepIndex: number,
  shape: GasShape,
  stretch: StretchBelief,
  rows: GasRows,
  beliefs: GasBeliefs,
  gain: GainBelief,
): GasSolution | null {
  const response = stride - 1
  const heat = beliefs.fullHeat
  const wall = shape.thermometer === 'wall'
  const stiffness = stiffnessBelief(stretch, rows.testPa, rows.testGaugePa)
  const gainStd = Math.hypot(gain.std, (gain.mean * stiffness.std) / stiffness.mean)
  const diagonal = [
    1,
    1 / (0.5 * heat) ** 2,
    1 / (0.02 * heat) ** 2,
    1 / 0.8 ** 2,
    1 / gainStd ** 2,
    1 / Math.hypot(stiffness.std, 0.01) ** 2,
    1 / flowExponentStd ** 2,
    1 / beliefs.dropStd ** 2,
    // A faint hold on the creep keeps the factor positive; it stands for a flat belief.
    1e-2,
  ]
  const center = [0, wall ? 0.3 * heat : 0, 0, 0.5 * gain.mean, gain.mean, 0, 0, 0, 0]
  const factor = new Float64Array(gasUnknowns * gasUnknowns)
  const rhs = new Float64Array(gasUnknowns)
  let priorSquares = 0
  let priorLogDeterminant = 0
  for (let r = 0; r < gasUnknowns; r++) {
    const row = r === place.creep ? baseColumns + creepIndex : r
    for (let c = 0; c < r; c++) factor[r * gasUnknowns + c] = sums[row * stride + c]
    factor[r * gasUnknowns + r] = sums[row * stride + row] + diagonal[r]
    rhs[r] = sums[response * stride + row] + diagonal[r] * center[r]
    priorSquares += diagonal[r] * center[r] ** 2
    if (r !== place.creep) priorLogDeterminant += Math.log(diagonal[r])
  }
  if (!factorLower(factor, gasUnknowns)) return null
  const half = new Float64Array(gasUnknowns)
  const solution = new Float64Array(gasUnknowns)
  solveLower(factor, gasUnknowns, rhs, half)
  solveUpper(factor, gasUnknowns, half, solution)
  let fitted = 0
  let logDeterminant = 0
  for (let r = 0; r < gasUnknowns; r++) {
    fitted += half[r] ** 2
    logDeterminant += 2 * Math.log(factor[r * gasUnknowns + r])
  }
  const yy = sums[response * stride + response]
  const logDensity =
    -0.5 * (yy + priorSquares - fitted) +
    0.5 * priorLogDeterminant -
    0.5 * logDeterminant +
    0.5 * Math.log(2 * Math.PI)
  return { factor, solution, logDensity }
}
