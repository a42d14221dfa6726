import { factorLower, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'
import type { NormalMixture } from '#analysis/numeric/normal-mixture.ts'
import { driftFilter, driftFilteredSums } from './drift-filter.ts'
import {
  bendOf,
  columnIndex,
  columnsOf,
  type Lag,
  type LiquidRows,
  lags,
  unknowns as size,
  straightSlope,
} from './liquid-columns.ts'
import { liquidMixtures, negligible, type Part, shapeTrust, tempered } from './liquid-mixture.ts'
import { airSteps, type LiquidNode, type LiquidPriors, liquidNodes, liquidPriors } from './liquid-nodes.ts'
import type { LiquidBeliefs } from './liquid-prior.ts'
import type { Stroke } from './liquid-strokes.ts'
import { noiseLadder, walkUnitPerS } from './noise-ladder.ts'

export interface LiquidFit {
  /** Drop by leakage alone in the stated hold time at the stated pressure, [Pa]. */
  readonly drop: NormalMixture
  /** Leak at the stated pressure, [m³/s]. */
  readonly volume: NormalMixture
  /** Fall of the pressure for each cubic metre lost, [Pa/m³]: belief after the data. */
  readonly paPerM3: NormalMixture
  readonly statedHoldS: number
  /** The likeliest single answer, for drawing. */
  readonly best: {
    readonly compliancePerPa: number
    readonly lagS: number
    /** Rise for each kelvin, [Pa/K]. */
    readonly paPerK: number
    /** Leak slope at the stated pressure, [Pa/s]. */
    readonly leakPaPerS: number
    /** What is not leak (temperature, heat, creep, strokes) at each row, [Pa]. */
    readonly otherPa: Float64Array
  }
}

const noises = noiseLadder([
  [0, 0.3],
  [1, 0.25],
  [5, 0.2],
  [25, 0.15],
  [120, 0.1],
])
const right = new Float64Array(size)

/** Rows about a stroke are neither before nor after it. */
function variances(rows: LiquidRows, strokes: readonly Stroke[]): Float64Array {
  const { timeS } = rows
  const near = 2 + (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1)
  return rows.variancePa2.map((variance, i) =>
    strokes.some((stroke) => Math.abs(stroke.timeS - timeS[i]) < near) ? 1e12 : variance,
  )
}

interface Setting {
  readonly sums: Float64Array
  readonly logWeight: number
  readonly lag: Lag
  readonly nodes: readonly LiquidNode[]
}

/**
 * Everything that the data say, once for each lag, noise, share of air and size of the thermometer's noise: the beliefs are
 * added afterwards.
 *
 * The thermometer's noise is noise of the comparison of pressure with temperature, as large as the pressure it would make. A
 * full line is the far better thermometer: without this the fit would rather deny the response to temperature than see the
 * noise of a thermometer in the pressure, and would take a real drift for a leak. That the pressure itself is smooth says
 * nothing of the yield, for the fuel's temperature is as smooth: densities are compared as those of the quantity that is
 * the noisier, which `logJacobian` sees to.
 */
function settingsOf(rows: LiquidRows, strokes: readonly Stroke[], nodes: readonly LiquidNode[]): Setting[] {
  const n = rows.timeS.length
  const spanS = rows.timeS[n - 1] - rows.timeS[0]
  const stepS = rows.timeS.map((t, i) => (i === 0 ? 0 : t - rows.timeS[i - 1]))
  const unit = walkUnitPerS(rows.variancePa2, spanS)
  const none = new Float64Array(n)
  const plain = variances(rows, strokes)
  const regressors = lags.map((lag) => columnsOf(rows, strokes, lag))
  const alike = new Map<string, LiquidNode[]>()
  for (const node of nodes) {
    const key = `${node.airStep} ${node.noiseStep}`
    alike.set(key, [...(alike.get(key) ?? []), node])
  }
  return [...alike.values()].flatMap((own) => {
    const { airStep, noisePaPerK } = own[0]
    const airShare = airStep / airSteps
    const slope = rows.absolutePa.map((p) => straightSlope(p, rows.testPa, airShare))
    const response = rows.absolutePa.map((p) => p - rows.testPa - airShare * bendOf(p, rows.testPa))
    const variance = plain.map(
      (v, i) => v * slope[i] * slope[i] + rows.temperatureVarianceK2[i] * noisePaPerK * noisePaPerK,
    )
    const logJacobian =
      logRatio(slope.map((s) => s * s)) + logRatio(variance.map((v, i) => v / (plain[i] * slope[i] ** 2)))
    const walkScale = slope.reduce((sum, s) => sum + s * s, 0) / n
    return lags.flatMap((lag, k) => {
      const columns = [...regressors[k], response]
      return noises.map(({ whiteScale, walkSize, weight }) => {
        const sums = new Float64Array((size + 1) ** 2)
        const walkPerS = walkSize * walkSize * unit * walkScale
        const filter = driftFilter(stepS, variance, whiteScale, walkPerS, none)
        driftFilteredSums(columns, filter, sums)
        return {
          sums,
          logWeight: Math.log(lag.weight) + Math.log(weight) - 0.5 * filter.logDeterminant + logJacobian,
          lag,
          nodes: own,
        }
      })
    })
  })
}

function logRatio(variances: Float64Array): number {
  return 0.5 * variances.reduce((sum, v) => sum + Math.log(v), 0)
}

/**
 * Estimates the leak of a section full of fuel from everything after pump-up.
 *
 * Volume, not pressure, is what leaks and what grows with temperature; how much pressure goes with a volume (the yield) is
 * what is not known. It is summed over all that is believed; strokes of known volume and the response to temperature,
 * whose size is known from the fuel, narrow it. Given the yield, the lag and the noise the model is linear:
 *
 *   p − a (p − p₀)²/p = level + heat + (α_net/y)·T_lagged − (q/y)·∫(g/g_test)dt − creep + strokes/(V y)
 *
 * @param rows at least 8
 * @param beliefs of the section
 * @param strokes of known volume
 * @param drawn finer rows at which the likeliest answer is wanted for curves
 * @throws RangeError with fewer than 8 rows
 */
export function liquidFit(
  rows: LiquidRows,
  beliefs: LiquidBeliefs,
  strokes: readonly Stroke[],
  drawn: LiquidRows = rows,
): LiquidFit {
  if (rows.timeS.length < 8) throw new RangeError('a liquid hold needs at least 8 rows')
  const inside = strokes.filter((stroke) => stroke.timeS > rows.timeS[0])
  const nodes = liquidNodes(rows, beliefs, strokes)
  const priors = new Map<LiquidNode, readonly LiquidPriors[]>()
  for (const node of nodes)
    priors.set(
      node,
      lags.map((lag) => liquidPriors(node, lag, rows, beliefs)),
    )
  let best: { logWeight: number; node: LiquidNode; setting: Setting; solution: Float64Array } | null = null
  const parts: Part[] = []
  const factor = new Float64Array(size * size)
  const half = new Float64Array(size)
  for (const setting of settingsOf(rows, inside, nodes)) {
    for (const node of setting.nodes) {
      const prior = (priors.get(node) as readonly LiquidPriors[])[lags.indexOf(setting.lag)]
      const logDensity = solveWith(setting.sums, prior, factor, half)
      if (logDensity === null) continue
      const logWeight = setting.logWeight + node.logWeight + logDensity
      const leading = best === null || logWeight > best.logWeight
      if (!leading && logWeight < best!.logWeight - negligible / shapeTrust) continue
      const solution = new Float64Array(size)
      solveUpper(factor, size, half, solution)
      if (leading) best = { logWeight, node, setting, solution }
      parts.push({
        logWeight,
        node,
        mean: solution[columnIndex.leak],
        variance: varianceOf(factor, columnIndex.leak),
      })
    }
  }
  if (best === null) throw new RangeError('the rows carry no information: no node can be solved')
  const columns = columnsOf(drawn, inside, best.setting.lag)
  const { solution } = best
  const otherPa = new Float64Array(drawn.timeS.length)
  for (const k of Object.values(columnIndex)) {
    if (k === columnIndex.level || k === columnIndex.leak) continue
    for (let i = 0; i < otherPa.length; i++) otherPa[i] += solution[k] * columns[k][i]
  }
  return {
    ...liquidMixtures(tempered(parts), rows, beliefs),
    statedHoldS: rows.statedHoldS,
    best: {
      compliancePerPa: best.node.compliancePerPa,
      lagS: best.setting.lag.lagS,
      paPerK: solution[columnIndex.temperature],
      leakPaPerS: solution[columnIndex.leak],
      otherPa,
    },
  }
}

/** Adds the beliefs to the sums and factors; returns the log-density of the data, null when it cannot be factored. */
function solveWith(
  sums: Float64Array,
  prior: LiquidPriors,
  factor: Float64Array,
  half: Float64Array,
): number | null {
  const stride = size + 1
  for (let r = 0; r < size; r++) {
    for (let c = 0; c < r; c++) factor[r * size + c] = sums[r * stride + c]
    factor[r * size + r] = sums[r * stride + r] + prior.precision[r]
    right[r] = sums[size * stride + r] + prior.pull[r]
  }
  if (!factorLower(factor, size)) return null
  solveLower(factor, size, right, half)
  let squares = sums[size * stride + size] + prior.squares
  let logDeterminant = prior.logDeterminant
  for (let r = 0; r < size; r++) {
    squares -= half[r] * half[r]
    logDeterminant += 2 * Math.log(factor[r * size + r])
  }
  return -0.5 * squares - 0.5 * logDeterminant
}

/** One diagonal element of the inverse of L·Lᵀ. */
function varianceOf(factor: Float64Array, index: number): number {
  const unit = new Float64Array(size)
  unit[index] = 1
  const column = new Float64Array(size)
  solveLower(factor, size, unit, column, index)
  let total = 0
  for (const value of column) total += value * value
  return total
}
