import { factorLower, solveLower, solveUpper } from './cholesky.ts'
import { leastSquaresCoefficients } from './least-squares.ts'

export interface NonlinearProblem {
  /** Number of residuals. */
  readonly rows: number
  readonly start: ArrayLike<number>
  /** Writes the residuals (model − observation, or the reverse, but always the same) for given parameters. */
  residuals(parameters: Float64Array, out: Float64Array): void
  /** Writes ∂residual/∂parameter, one column a parameter; central differences when absent. */
  jacobian?(parameters: Float64Array, columns: readonly Float64Array[]): void
  readonly maxIterations?: number
}

export interface NonlinearFit {
  readonly parameters: Float64Array
  readonly residuals: Float64Array
  readonly residualSumOfSquares: number
  readonly degreesOfFreedom: number
  /** Residual variance times (JᵀJ)⁻¹ by rows; null when the parameters cannot be told apart. */
  readonly covariance: readonly Float64Array[] | null
  readonly stdParameters: Float64Array | null
  /** True only when the gradient vanished or steps and gains fell below rounding: never by running out of iterations. */
  readonly converged: boolean
  readonly iterations: number
}

const STEP_TOLERANCE = 1e-13
const GAIN_TOLERANCE = 1e-14
const GRADIENT_TOLERANCE = 1e-10
/** A column of the Jacobian that has shrunk this far tells nothing about its parameter any more. */
const LOST_COLUMN = 1e-9
/** First the quick way; where that strays, again with short first steps. */
const FIRST_DAMPINGS = [1e-3, 1e2]

function squares(residuals: Float64Array): number {
  let total = 0
  for (const residual of residuals) total += residual * residual
  return total
}

function centralDifferences(
  problem: NonlinearProblem,
  at: Float64Array,
  columns: readonly Float64Array[],
): void {
  const shifted = at.slice()
  const above = new Float64Array(problem.rows)
  for (let j = 0; j < at.length; j++) {
    const width = 6e-6 * Math.max(Math.abs(at[j]), 1e-8)
    shifted[j] = at[j] + width
    const top = shifted[j]
    problem.residuals(shifted, above)
    shifted[j] = at[j] - width
    problem.residuals(shifted, columns[j])
    const span = top - shifted[j]
    for (let i = 0; i < problem.rows; i++) columns[j][i] = (above[i] - columns[j][i]) / span
    shifted[j] = at[j]
  }
}

/** One damped step: least squares of J over a diagonal of √damping times the column scales. */
function dampedStep(
  columns: readonly Float64Array[],
  residuals: Float64Array,
  scales: Float64Array,
  damping: number,
): Float64Array | null {
  const rows = residuals.length
  const p = columns.length
  const extended = columns.map((column, j) => {
    const longer = new Float64Array(rows + p)
    longer.set(column)
    longer[rows + j] = Math.sqrt(damping) * scales[j]
    return longer
  })
  const right = new Float64Array(rows + p)
  for (let i = 0; i < rows; i++) right[i] = -residuals[i]
  return leastSquaresCoefficients(extended, right)
}

function columnLength(column: Float64Array): number {
  return Math.sqrt(squares(column))
}

/** Largest cosine between the residuals and a column of the Jacobian: 0 at a stationary point whatever the units. */
function gradientCosine(columns: readonly Float64Array[], residuals: Float64Array): number {
  const length = columnLength(residuals)
  let largest = 0
  for (const column of columns) {
    let product = 0
    for (let i = 0; i < residuals.length; i++) product += column[i] * residuals[i]
    const norm = columnLength(column) * length
    if (norm > 0) largest = Math.max(largest, Math.abs(product) / norm)
  }
  return largest
}

interface Descent {
  readonly parameters: Float64Array
  readonly residuals: Float64Array
  readonly columns: readonly Float64Array[]
  readonly cost: number
  readonly converged: boolean
  readonly iterations: number
}

function descend(problem: NonlinearProblem, firstDamping: number, maxIterations: number): Descent {
  const { rows } = problem
  let parameters = Float64Array.from(problem.start)
  const p = parameters.length
  const columns = Array.from({ length: p }, () => new Float64Array(rows))
  const linearize = (at: Float64Array) =>
    problem.jacobian ? problem.jacobian(at, columns) : centralDifferences(problem, at, columns)

  let residuals = new Float64Array(rows)
  problem.residuals(parameters, residuals)
  let cost = squares(residuals)
  linearize(parameters)
  const scales = Float64Array.from(columns, (column) => columnLength(column) || 1)
  let damping = firstDamping
  let growth = 2
  let arrived = false
  let iterations = 0

  while (!arrived && iterations < maxIterations && Number.isFinite(cost) && Number.isFinite(damping)) {
    if (cost === 0 || gradientCosine(columns, residuals) < GRADIENT_TOLERANCE) {
      arrived = true
      break
    }
    iterations++
    const step = dampedStep(columns, residuals, scales, damping)
    if (step === null) {
      damping = Math.max(damping, 1e-12) * 10
      continue
    }
    const trial = parameters.map((value, j) => value + step[j])
    const trialResiduals = new Float64Array(rows)
    problem.residuals(trial, trialResiduals)
    const trialCost = squares(trialResiduals)

    let predicted = 0
    for (let i = 0; i < rows; i++) {
      let change = 0
      for (let j = 0; j < p; j++) change += columns[j][i] * step[j]
      predicted -= change * (change + 2 * residuals[i])
    }
    const gain = cost - trialCost
    const noGainLeft = Math.abs(predicted) <= GAIN_TOLERANCE * cost
    const small = step.every((value, j) => Math.abs(value) <= STEP_TOLERANCE * Math.abs(parameters[j]))
    // damping itself makes steps small far from the goal: only a nearly free step proves arrival
    arrived = damping < 1 && (small || (noGainLeft && gain <= GAIN_TOLERANCE * cost))
    if (gain > 0) {
      parameters = trial
      residuals = trialResiduals
      cost = trialCost
      linearize(parameters)
      for (let j = 0; j < p; j++) scales[j] = Math.max(scales[j], columnLength(columns[j]))
      damping *= Math.max(1 / 3, 1 - (2 * (gain / predicted) - 1) ** 3)
      growth = 2
    } else {
      damping *= growth
      growth *= 2
    }
  }
  const allFelt = columns.every((column, j) => columnLength(column) > LOST_COLUMN * scales[j])
  return { parameters, residuals, columns, cost, converged: arrived && (allFelt || cost === 0), iterations }
}

/**
 * Nonlinear least squares by Levenberg–Marquardt with column scaling and Nielsen's damping rule: deterministic, and
 * honest about whether it arrived.
 *
 * @returns parameters and their covariance at the best point found; read `converged` before using them
 * @throws RangeError when there are fewer residuals than parameters
 *
 * Source: [marquardt-1963], damping rule [nielsen-1999], scaling [more-1978]
 * Check: [nist-strd] Misra1a, BoxBOD, MGH17, DanWood, each from both starts
 */
export function nonlinearLeastSquares(problem: NonlinearProblem): NonlinearFit {
  const degreesOfFreedom = problem.rows - problem.start.length
  if (degreesOfFreedom < 0) {
    throw new RangeError('nonlinearLeastSquares needs at least as many residuals as parameters')
  }
  let best: Descent | undefined
  let iterations = 0
  for (const damping of FIRST_DAMPINGS) {
    const descent = descend(problem, damping, problem.maxIterations ?? 500)
    iterations += descent.iterations
    if (best === undefined || descent.converged || descent.cost < best.cost) best = descent
    if (descent.converged) break
  }
  const { parameters, residuals, columns, cost, converged } = best!
  const variance = degreesOfFreedom > 0 ? cost / degreesOfFreedom : 0
  const covariance = covarianceOf(columns, variance)
  return {
    parameters,
    residuals,
    residualSumOfSquares: cost,
    degreesOfFreedom,
    covariance,
    stdParameters: covariance && Float64Array.from(covariance, (row, j) => Math.sqrt(row[j])),
    converged,
    iterations,
  }
}

function covarianceOf(columns: readonly Float64Array[], variance: number): Float64Array[] | null {
  const lengths = columns.map(columnLength)
  if (lengths.some((length) => !(length > 0) || !Number.isFinite(length))) return null
  const p = columns.length
  const gram = new Float64Array(p * p)
  for (let i = 0; i < p; i++)
    for (let j = 0; j <= i; j++) {
      let product = 0
      for (let k = 0; k < columns[i].length; k++) product += columns[i][k] * columns[j][k]
      gram[i * p + j] = product / (lengths[i] * lengths[j])
    }
  if (!factorLower(gram, p)) return null
  return columns.map((_, i) => {
    const row = new Float64Array(p)
    row[i] = 1
    solveUpper(gram, p, solveLower(gram, p, row, row), row)
    return row.map((v, j) => (v * variance) / (lengths[i] * lengths[j]))
  })
}
