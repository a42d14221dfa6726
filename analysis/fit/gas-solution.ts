import { factorLower, solveUpper } from '#analysis/numeric/cholesky.ts'
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

/** Everything of a node: one factor serves all creep time constants, of which one at a time is solved. */
export interface GasNode {
  /** Factor of the precision of all coefficients, the creep the last. */
  readonly factor: Float64Array
  /** Takes one of the creep columns in; false where the matrix is not positive definite. */
  withCreep(creepIndex: number): boolean
  /** Standard deviation of that creep. */
  readonly creepStd: number
  /** Log-density of the data with that creep left free, all else summed over, without the noise determinant. */
  readonly logDensity: number
  /** The coefficients, in the order of `place`. */
  solve(): Float64Array
}

// One node is solved at a time, thousands in a fit: the next writes over its arrays.
const factor = new Float64Array(gasUnknowns * gasUnknowns)
const half = new Float64Array(baseColumns)
const solution = new Float64Array(gasUnknowns)

/**
 * Adds the beliefs to the sums and factors what does not depend on the creep; null when that is not positive definite.
 *
 * @param sums cross products of the columns, the response last, lower triangle by rows of `stride`
 * @returns a node that stands until the next is made
 */
export function gasNode(sums: Float64Array, stride: number, prior: GasPrior): GasNode | null {
  const n = gasUnknowns
  const response = (stride - 1) * stride
  for (let r = 0; r < baseColumns; r++) {
    for (let c = 0; c < r; c++) factor[r * n + c] = sums[r * stride + c]
    factor[r * n + r] = sums[r * stride + r] + prior.precision[r]
    half[r] = sums[response + r] + prior.pull[r]
  }
  if (!factorLower(factor, baseColumns, n)) return null
  let fitted = 0
  let logDeterminant = 0
  for (let r = 0; r < baseColumns; r++) {
    for (let k = 0; k < r; k++) half[r] -= factor[r * n + k] * half[k]
    half[r] /= factor[r * n + r]
    fitted += half[r] ** 2
    logDeterminant += 2 * Math.log(factor[r * n + r])
  }
  const misfit = sums[response + stride - 1] + prior.squares - fitted
  const baseLogDensity = 0.5 * (prior.logDeterminant - logDeterminant + Math.log(2 * Math.PI) - misfit)
  let lastHalf = 0
  const node = {
    factor,
    creepStd: 0,
    logDensity: 0,
    withCreep(creepIndex: number) {
      const creep = baseColumns + creepIndex
      let rest = sums[creep * stride + creep] + faintCreepPrecision
      let right = sums[response + creep]
      for (let r = 0; r < baseColumns; r++) {
        let product = sums[creep * stride + r]
        for (let c = 0; c < r; c++) product -= factor[place.creep * n + c] * factor[r * n + c]
        const last = product / factor[r * n + r]
        factor[place.creep * n + r] = last
        rest -= last ** 2
        right -= last * half[r]
      }
      if (!(rest > 0)) return false
      const pivot = Math.sqrt(rest)
      factor[place.creep * n + place.creep] = pivot
      lastHalf = right / pivot
      node.creepStd = 1 / pivot
      node.logDensity = baseLogDensity + 0.5 * lastHalf ** 2 - Math.log(pivot)
      return true
    },
    solve() {
      solution.set(half)
      solution[place.creep] = lastHalf
      return solveUpper(factor, n, solution, solution)
    },
  }
  return node
}
