import { factorLower, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'
import { driftFilteredSums } from './drift-filter.ts'
import { baseColumns, type GasRows, type GasShape, gasColumns, place } from './gas-columns.ts'
import { type GainBelief, type GasBeliefs, type StretchBelief, stiffnessBelief } from './gas-priors.ts'

/** Unknowns of one node: the base columns and one creep. */
const size = baseColumns + 1

/** Size of the noise of a node: white noise scale and random walk, [1/s] of variance of ln p. */
export interface NoiseSize {
  readonly whiteScale: number
  readonly walkPerS: number
  readonly weight: number
}

/** One conditional answer: normal in the drop given everything that is not linear. */
export interface Part {
  readonly logWeight: number
  readonly stretch: StretchBelief
  /** Drop of ln p in the stated hold time at the stated pressure. */
  readonly drop: number
  readonly variance: number
  /** Random walk of its noise, [1/s]. */
  readonly walkPerS: number
}

/** One solution to draw: coefficients in the order of `place`. */
export interface Solution {
  readonly logWeight: number
  readonly shape: GasShape
  readonly creepTauS: number
  readonly noise: NoiseSize
  readonly coefficients: Float64Array
}

// Exponential belief in the size of a creep, as points and weights.
const creepLadder: readonly (readonly [size: number, weight: number])[] = [
  [0.12, 0.22],
  [0.4, 0.24],
  [0.8, 0.22],
  [1.4, 0.18],
  [2.3, 0.1],
  [3.8, 0.04],
]

/** Share of the heat still to go by which its way may differ from the model's. */
const heatError = 0.01
/** Share of the wall's temperature changes that may not reach the gas as modelled. */
const swingError = 0.005

/** A shape's columns and response, the response freed of what is not linear in the pump-up heat. */
export interface ShapeColumns {
  readonly shape: GasShape
  readonly stretch: StretchBelief
  /** Regressors and, last, the response. */
  readonly columns: Float64Array[]
  readonly extraWalk: Float64Array
  readonly variance: Float64Array
  readonly logJacobian: number
}

/** Time from each row's middle to the next, [s]. */
export function rowSteps(rows: Pick<GasRows, 'fromS' | 'toS'>): Float64Array {
  const out = new Float64Array(rows.fromS.length)
  for (let i = 1; i < out.length; i++) {
    out[i] = (rows.fromS[i] + rows.toS[i] - rows.fromS[i - 1] - rows.toS[i - 1]) / 2
  }
  return out
}

/**
 * Columns of a shape. The heat enters as ln(1 + a·heat): its amplitude a is found first and what exceeds a·heat is
 * taken off the response.
 *
 * @returns null when no amplitude agrees with itself: the shape cannot be true
 */
export function shapeColumns(
  rows: GasRows,
  shape: GasShape,
  beliefs: GasBeliefs,
  noise: NoiseSize,
  stepS: Float64Array,
): ShapeColumns | null {
  const columnsOf = gasColumns(rows, shape, beliefs.creepTausS)
  const { response, variance, logJacobian } = columnsOf
  const stretch = beliefs.stretch.find((s) => s.perPa === shape.stretchPerPa) as StretchBelief
  let amplitude = beliefs.fullHeat * 0.2
  const shaped = (): ShapeColumns => {
    const { heat, bend } = columnsOf.heatAt(amplitude)
    const regressors = [...columnsOf.regressors]
    regressors[place.heat] = heat
    const extraWalk = thermalWalk(rows, shape, heat, amplitude)
    return {
      shape,
      stretch,
      columns: [...regressors, response.map((y, i) => y - bend[i])],
      extraWalk,
      variance,
      logJacobian,
    }
  }
  if (shape.thermometer === 'gas') {
    amplitude = 0
    return shaped()
  }
  const most = 1.5 * beliefs.fullHeat
  for (let round = 0; round < 9; round++) {
    const { columns, extraWalk } = shaped()
    const sums = new Float64Array(columns.length ** 2)
    driftFilteredSums(columns, stepS, variance, noise.whiteScale, noise.walkPerS, extraWalk, sums)
    const solved = solveGaussian(sums, columns.length, 0, shape, stretch, rows, beliefs, beliefs.gain[0])
    if (solved === null) return null
    const found = solved.solution[place.heat]
    if (Math.abs(found - amplitude) < (round < 5 ? 0.02 : 0.1) * Math.abs(found) + 1e-5) return shaped()
    // The heat cannot exceed an adiabatic pump-up's by far; beyond, the straightened columns mean nothing.
    const next = Math.min(most, Math.max(-most / 3, found))
    amplitude = round < 2 ? next : (amplitude + next) / 2
  }
  return null
}

/**
 * Variance that the walk gains between rows because no thermal model is exact: wherever the modelled gas temperature
 * changes, a share of what is still to come of the change goes astray.
 */
function thermalWalk(rows: GasRows, shape: GasShape, heat: Float64Array, amplitude: number): Float64Array {
  const theta = rows.logTemperature
  const last = theta.length - 1
  const out = new Float64Array(theta.length)
  const cooling = 2 * heatError ** 2
  for (let i = 1; i < out.length; i++) {
    const heatLeft = amplitude * heat[i]
    out[i] = cooling * Math.abs(heatLeft * amplitude * (heat[i - 1] - heat[i]))
    const change = Math.abs(theta[i] - theta[i - 1])
    const left = Math.abs(theta[i] - theta[last])
    out[i] += (shape.thermometer === 'gas' ? 0.1 * cooling * left : swingError ** 2 * change * 30) * change
  }
  return out
}

interface Gaussian {
  readonly factor: Float64Array
  readonly solution: Float64Array
  /** Log-density of the data with the creep left free, all else summed over, without the noise determinant. */
  readonly logDensity: number
}

/** Adds the beliefs to the sums and solves; null when the matrix is not positive definite. */
function solveGaussian(
  sums: Float64Array,
  stride: number,
  creepIndex: number,
  shape: GasShape,
  stretch: StretchBelief,
  rows: GasRows,
  beliefs: GasBeliefs,
  gain: GainBelief,
): Gaussian | null {
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
    1 / beliefs.dropStd ** 2,
    // A faint hold on the creep keeps the factor positive; it stands for a flat belief.
    1e-2,
  ]
  const center = [0, wall ? 0.3 * heat : 0, 0, 0.5 * gain.mean, gain.mean, 0, 0, 0]
  const factor = new Float64Array(size * size)
  const rhs = new Float64Array(size)
  let priorSquares = 0
  let priorLogDeterminant = 0
  for (let r = 0; r < size; r++) {
    const row = r === place.creep ? baseColumns + creepIndex : r
    for (let c = 0; c < r; c++) factor[r * size + c] = sums[row * stride + c]
    factor[r * size + r] = sums[row * stride + row] + diagonal[r]
    rhs[r] = sums[response * stride + row] + diagonal[r] * center[r]
    priorSquares += diagonal[r] * center[r] ** 2
    if (r !== place.creep) priorLogDeterminant += Math.log(diagonal[r])
  }
  if (!factorLower(factor, size)) return null
  const half = new Float64Array(size)
  const solution = new Float64Array(size)
  solveLower(factor, size, rhs, half)
  solveUpper(factor, size, half, solution)
  let fitted = 0
  let logDeterminant = 0
  for (let r = 0; r < size; r++) {
    fitted += half[r] ** 2
    logDeterminant += 2 * Math.log(factor[r * size + r])
  }
  const yy = sums[response * stride + response]
  const logDensity =
    -0.5 * (yy + priorSquares - fitted) +
    0.5 * priorLogDeterminant -
    0.5 * logDeterminant +
    0.5 * Math.log(2 * Math.PI)
  return { factor, solution, logDensity }
}

/**
 * Solves a shape at one noise size under every belief, hands out its parts and returns its best solution.
 *
 * @param cut parts of less log-weight are not handed out
 */
export function solveNode(
  shaped: ShapeColumns,
  rows: GasRows,
  beliefs: GasBeliefs,
  noise: NoiseSize,
  stepS: Float64Array,
  logWeight: number,
  cut: number,
  parts: Part[],
): Solution | null {
  const { columns, shape, stretch, extraWalk, variance } = shaped
  const stride = columns.length
  const sums = new Float64Array(stride * stride)
  const { whiteScale, walkPerS } = noise
  const noiseLogDeterminant = driftFilteredSums(
    columns,
    stepS,
    variance,
    whiteScale,
    walkPerS,
    extraWalk,
    sums,
  )
  let best: Solution | null = null
  const creepShare = 1 / beliefs.creepTausS.length
  for (let k = 0; k < beliefs.creepTausS.length; k++) {
    for (const gain of beliefs.gain) {
      const solved = solveGaussian(sums, stride, k, shape, stretch, rows, beliefs, gain)
      if (solved === null) continue
      const { factor, solution } = solved
      const flat =
        logWeight +
        shaped.logJacobian +
        Math.log(noise.weight * gain.weight * creepShare) -
        0.5 * noiseLogDeterminant +
        solved.logDensity
      // The last 2×2 of the factor is that of the joint precision of (drop, creep).
      const l11 = factor[place.leak * size + place.leak]
      const l21 = factor[place.creep * size + place.leak]
      const l22 = factor[place.creep * size + place.creep]
      const dropVariance = 1 / l11 ** 2 // given the creep
      const slope = -l21 / l11
      const creepMean = solution[place.creep]
      const creepStd = 1 / l22
      const atCreep = (creep: number, weight: number): void => {
        const z = (creep - creepMean) / creepStd
        const logPart =
          flat + Math.log(weight) - Math.log(creepStd) - 0.5 * Math.log(2 * Math.PI) - 0.5 * z * z
        if (best === null || logPart > best.logWeight) {
          const coefficients = conditionOnCreep(factor, solution, creep)
          best = { logWeight: logPart, shape, creepTauS: beliefs.creepTausS[k], noise, coefficients }
        }
        if (logPart < cut) return
        const drop = solution[place.leak] + slope * (creep - creepMean)
        parts.push({ logWeight: logPart, stretch, drop, variance: dropVariance, walkPerS })
      }
      atCreep(0, 1 - beliefs.creepWeight)
      for (const [sizeOf, weight] of creepLadder)
        atCreep(sizeOf * beliefs.creepScale, weight * beliefs.creepWeight)
    }
  }
  return best
}

/** The solution where the creep has a given size: the other coefficients follow their covariance with it. */
function conditionOnCreep(factor: Float64Array, solution: Float64Array, creep: number): Float64Array {
  const unit = new Float64Array(size)
  unit[size - 1] = 1 / factor[size * size - 1]
  const covariance = new Float64Array(size)
  solveUpper(factor, size, unit, covariance)
  const shift = (creep - solution[size - 1]) / covariance[size - 1]
  return solution.map((value, r) => value + covariance[r] * shift)
}
