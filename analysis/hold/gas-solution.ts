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

/** What is believed of the base coefficients: normal, each by itself. */
export interface GasPrior {
  readonly gain: GainBelief
  readonly precision: Float64Array
  /** Precision times the middle of the belief. */
  readonly pull: Float64Array
  /** Σ precision·middle². */
  readonly squares: number
  /** Σ ln precision. */
  readonly logDeterminant: number
}

/** The belief in the coefficients of a shape of this stretch and thermometer. */
export function gasPrior(
  thermometer: GasShape['thermometer'],
  stretch: StretchBelief,
  rows: GasRows,
  beliefs: GasBeliefs,
  gain: GainBelief,
): GasPrior {
  const heat = beliefs.fullHeat
  const stiffness = stiffnessBelief(stretch, rows.testPa, rows.testGaugePa)
  const gainStd = Math.hypot(gain.std, (gain.mean * stiffness.std) / stiffness.mean)
  const precision = Float64Array.of(
    1,
    1 / (0.5 * heat) ** 2,
    1 / (0.02 * heat) ** 2,
    1 / 0.8 ** 2,
    1 / gainStd ** 2,
    1 / Math.hypot(stiffness.std, 0.01) ** 2,
    1 / flowExponentStd ** 2,
    1 / beliefs.dropStd ** 2,
  )
  const middle = [0, thermometer === 'wall' ? 0.3 * heat : 0, 0, 0.5 * gain.mean, gain.mean, 0, 0, 0]
  return {
    gain,
    precision,
    pull: precision.map((p, r) => p * middle[r]),
    squares: precision.reduce((sum, p, r) => sum + p * middle[r] ** 2, 0),
    logDeterminant: precision.reduce((sum, p) => sum + Math.log(p), 0),
  }
}

/** The solution of one node with one creep, in arrays that the next creep's writes over. */
export interface GasSolution {
  readonly factor: Float64Array
  /** Log-density of the data with the creep left free, all else summed over, without the noise determinant. */
  readonly logDensity: number
  /** The coefficients, in the order of `place`. */
  solve(): Float64Array
}

/** Everything of a node but its creep: one factor serves all creep time constants. */
export interface GasNode {
  /** The solution with one of the creep columns; null where the matrix is not positive definite. */
  withCreep(creepIndex: number): GasSolution | null
}

/**
 * Adds the beliefs to the sums and factors what does not depend on the creep; null when that is not positive definite.
 *
 * @param sums cross products of the columns, the response last, lower triangle by rows of `stride`
 */
export function gasNode(sums: Float64Array, stride: number, prior: GasPrior): GasNode | null {
  const response = stride - 1
  const base = new Float64Array(baseColumns * baseColumns)
  const half = new Float64Array(baseColumns)
  for (let r = 0; r < baseColumns; r++) {
    for (let c = 0; c < r; c++) base[r * baseColumns + c] = sums[r * stride + c]
    base[r * baseColumns + r] = sums[r * stride + r] + prior.precision[r]
    half[r] = sums[response * stride + r] + prior.pull[r]
  }
  if (!factorLower(base, baseColumns)) return null
  solveLower(base, baseColumns, half, half)
  let fitted = 0
  for (let r = 0; r < baseColumns; r++) fitted += half[r] ** 2
  const misfit = sums[response * stride + response] + prior.squares - fitted
  const baseLogDensity =
    0.5 * (prior.logDeterminant - logDeterminant(base, baseColumns) + Math.log(2 * Math.PI) - misfit)
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
      }
      if (!(rest > 0)) return null
      const pivot = Math.sqrt(rest)
      factor[n * n - 1] = pivot
      const last = right / pivot
      return {
        factor,
        logDensity: baseLogDensity + 0.5 * last ** 2 - Math.log(pivot),
        solve() {
          solution.set(half)
          solution[place.creep] = last
          return solveUpper(factor, n, solution, solution)
        },
      }
    },
  }
}
