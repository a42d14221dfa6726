import { driftFilteredSums } from './drift-filter.ts'
import { baseColumns, type GasRows, gasColumns, place } from './gas-columns.ts'
import type { GainBelief, StiffnessBelief } from './gas-priors.ts'
import { mixtureQuantile, type NormalMixture, prunedMixture } from './normal-mixture.ts'
import { factorLower, solveLower, solveUpper } from './small-cholesky.ts'

/** What is believed before the hold; amplitudes are of ln p, dimensionless. */
export interface GasBeliefs {
  readonly stiffness: readonly StiffnessBelief[]
  readonly gain: readonly GainBelief[]
  /** Gas-to-wall time constants to try, ascending, [s]. */
  readonly lagsS: readonly number[]
  /** Amplitude an adiabatic pump-up would have. */
  readonly fullHeat: number
  /** Mean size of a creep where there is one, and the belief that there is one. */
  readonly creepScale: number
  readonly creepWeight: number
  readonly creepTausS: readonly number[]
  /** Prior standard deviation of the leak, in stated-hold-time drops of ln p: wide. */
  readonly leakStd: number
  /** What the fit cannot see and the leak must carry (unknown weather, unseen temperature trend), same unit. */
  readonly unseenStd: number
}

/** The leak as a mixture, and one representative solution for drawing. */
export interface GasFit {
  /** Drop of ln p in the stated hold time at the stated pressure. */
  readonly leak: NormalMixture
  /** The leak divided by the stiffness of each part: relative loss of moles in the stated hold time, over V/V₀ growth. */
  readonly moles: NormalMixture
  /** Posterior median of growth over stiffness: relative loss of moles for one of pressure. */
  readonly middleMolesFactor: number
  /** Posterior mean stiffness and its spread. */
  readonly stiffness: { readonly mean: number; readonly std: number }
  readonly best: {
    readonly lagS: number
    readonly creepTauS: number
    readonly walkPerS: number
    readonly whiteScale: number
    readonly coefficients: Float64Array
    /** Standard deviation of the leak there. */
    readonly leakStd: number
  }
}

// Random walk of the sensor (or of gas the thermometer does not see): its size over the whole span in units of
// one block's white noise, and the belief in each.
const walkLadder: readonly (readonly [size: number, weight: number])[] = [
  [0, 0.2],
  [0.5, 0.15],
  [1.5, 0.15],
  [4, 0.15],
  [10, 0.14],
  [25, 0.11],
  [70, 0.07],
  [200, 0.03],
]
const whiteLadder: readonly (readonly [scale: number, weight: number])[] = [
  [1, 0.6],
  [2.5, 0.3],
  [8, 0.1],
]
// Exponential belief in the size of a creep, as points and weights.
const creepLadder: readonly (readonly [size: number, weight: number])[] = [
  [0.12, 0.22],
  [0.4, 0.24],
  [0.8, 0.22],
  [1.4, 0.18],
  [2.3, 0.1],
  [3.8, 0.04],
]

interface Node {
  readonly lagS: number
  readonly walkPerS: number
  readonly whiteScale: number
  readonly logDeterminant: number
  readonly sums: Float64Array
  readonly logWeight: number
}

interface Part {
  readonly logWeight: number
  readonly mean: number
  readonly variance: number
  readonly belief: number
}

/**
 * Estimates the leak of a gas hold from everything after pump-up.
 *
 * Given the nuisance constants (gas-to-wall lag, creep time, drift and noise size, stiffness class) the model is linear with
 * Gaussian beliefs and is solved exactly; the constants themselves are summed over, so that not knowing them widens the
 * interval. Deterministic.
 *
 * @param rows time blocks
 * @param beliefs what is believed before
 * *Holds for* at least 8 rows. *Source* method.md section 2; O'Hagan & Forster, Bayesian linear models.
 */
export function gasFit(rows: GasRows, beliefs: GasBeliefs): GasFit {
  const lags = refinedLags(rows, beliefs)
  const nodes = lags.flatMap(({ lagS, width }) => nodesOf(rows, beliefs, lagS, Math.log(width)))
  const parts: Part[] = []
  let best: { logWeight: number; fit: GasFit['best'] } | null = null
  let cut = Number.NEGATIVE_INFINITY
  for (const node of nodes) {
    const solved = solveNode(node, beliefs, parts, cut)
    if (solved !== null && (best === null || solved.logWeight > best.logWeight)) {
      best = solved
      cut = best.logWeight - 14
    }
  }
  if (best === null) throw new RangeError('the rows carry no information: every likelihood is zero')
  const top = parts.reduce((most, part) => Math.max(most, part.logWeight), Number.NEGATIVE_INFINITY)
  const kept = parts.filter((part) => part.logWeight > top - 14)
  const unseen = beliefs.unseenStd ** 2
  const combos = comboBeliefs(beliefs)
  const weight = kept.map((part) => Math.exp(part.logWeight - top))
  const leak = prunedMixture(
    { weight, mean: kept.map((p) => p.mean), std: kept.map((p) => Math.sqrt(p.variance + unseen)) },
    1e-5,
  )
  const moles = prunedMixture(
    {
      weight,
      mean: kept.map((p) => (p.mean * combos[p.belief].growth) / combos[p.belief].stiffness),
      std: kept.map((p) => {
        const { growth, stiffness, stiffnessStd } = combos[p.belief]
        const factor = growth / stiffness
        const relative = stiffnessStd / stiffness
        return Math.sqrt((p.variance + unseen) * factor ** 2 + (p.mean * factor * relative) ** 2)
      }),
    },
    1e-5,
  )
  const factor = prunedMixture(
    {
      weight,
      mean: kept.map((p) => combos[p.belief].growth / combos[p.belief].stiffness),
      std: kept.map(
        (p) => (combos[p.belief].growth / combos[p.belief].stiffness ** 2) * combos[p.belief].stiffnessStd,
      ),
    },
    1e-5,
  )
  return {
    leak,
    moles,
    middleMolesFactor: mixtureQuantile(factor, 0.5),
    stiffness: stiffnessOfParts(kept, weight, combos),
    best: best.fit,
  }
}

interface Combo {
  readonly logWeight: number
  readonly stiffness: number
  readonly stiffnessStd: number
  readonly growth: number
  /** Prior means of temperature and barometer coefficients and their 2×2 precision. */
  readonly mean: readonly [number, number]
  readonly precision: readonly [a: number, b: number, d: number]
  readonly logDeterminant: number
}

function comboBeliefs(beliefs: GasBeliefs): Combo[] {
  const out: Combo[] = []
  for (const s of beliefs.stiffness) {
    for (const g of beliefs.gain) {
      const tt = (g.mean * s.std) ** 2 + (s.mean * g.std) ** 2 + (s.std * g.std) ** 2
      const bb = s.std ** 2 + 0.01 ** 2
      const tb = -g.mean * s.std ** 2
      const det = tt * bb - tb * tb
      out.push({
        logWeight: Math.log(s.weight * g.weight),
        stiffness: s.mean,
        stiffnessStd: s.std,
        growth: s.growth,
        mean: [g.mean * s.mean, 1 - s.mean],
        precision: [bb / det, -tb / det, tt / det],
        logDeterminant: -Math.log(det),
      })
    }
  }
  return out
}

/** The ladder of lags, made finer twice around the likeliest, with each one's share of the logarithmic axis. */
function refinedLags(rows: GasRows, beliefs: GasBeliefs): { lagS: number; width: number }[] {
  const score = new Map<number, number>()
  const scoreOf = (lagS: number): number => {
    const known = score.get(lagS)
    if (known !== undefined) return known
    let most = Number.NEGATIVE_INFINITY
    for (const node of nodesOf(rows, beliefs, lagS, 0, true)) {
      const parts: Part[] = []
      const solved = solveNode(node, beliefs, parts, Number.NEGATIVE_INFINITY, true)
      if (solved !== null) most = Math.max(most, solved.logWeight)
    }
    score.set(lagS, most)
    return most
  }
  let lags = [...beliefs.lagsS]
  for (let round = 0; round < 3; round++) {
    const scores = lags.map(scoreOf)
    const top = scores.indexOf(Math.max(...scores))
    const from = lags[Math.max(0, top - 1)]
    const to = lags[Math.min(lags.length - 1, top + 1)]
    const finer = [0.2, 0.4, 0.6, 0.8].map((share) => from ** (1 - share) * to ** share)
    lags = [...new Set([...lags, ...finer])].sort((a, b) => a - b)
  }
  const scores = lags.map(scoreOf)
  const most = Math.max(...scores)
  const widths = lags.map((lagS, i) => {
    const before = i > 0 ? Math.log(lagS / lags[i - 1]) : Math.log(lags[1] / lagS)
    const after = i + 1 < lags.length ? Math.log(lags[i + 1] / lagS) : before
    return (before + after) / 2
  })
  return lags.map((lagS, i) => ({ lagS, width: widths[i] })).filter((_, i) => scores[i] > most - 12)
}

function typicalVariance(rows: GasRows): number {
  const sorted = Float64Array.from(rows.variance).sort()
  return sorted[sorted.length >> 1]
}

function nodesOf(
  rows: GasRows,
  beliefs: GasBeliefs,
  lagS: number,
  logWeight: number,
  sparse = false,
): Node[] {
  const n = rows.fromS.length
  const columns = [...gasColumns(rows, lagS, beliefs.creepTausS), rows.logPressure]
  const stepS = new Float64Array(n)
  for (let i = 1; i < n; i++) {
    stepS[i] = (rows.fromS[i] + rows.toS[i] - rows.fromS[i - 1] - rows.toS[i - 1]) / 2
  }
  const span = rows.toS[n - 1] - rows.fromS[0]
  const unit = typicalVariance(rows) / span
  const out: Node[] = []
  for (const [size, walkWeight] of walkLadder) {
    if (sparse && size !== 1.5 && size !== 25) continue
    for (const [whiteScale, whiteWeight] of whiteLadder) {
      if (sparse && whiteScale !== 1) continue
      const walkPerS = size * size * unit
      const sums = new Float64Array(columns.length ** 2)
      const logDeterminant = driftFilteredSums(columns, stepS, rows.variance, whiteScale, walkPerS, sums)
      const weight = logWeight + Math.log(walkWeight * whiteWeight)
      out.push({ lagS, walkPerS, whiteScale, logDeterminant, sums, logWeight: weight })
    }
  }
  return out
}

const size = baseColumns + 1

/** Solves one node under every belief, appends its parts and returns its best solution when it is worth something. */
function solveNode(
  node: Node,
  beliefs: GasBeliefs,
  parts: Part[],
  cut: number,
  first = false,
): { logWeight: number; fit: GasFit['best'] } | null {
  const combos = comboBeliefs(beliefs)
  const stride = baseColumns + beliefs.creepTausS.length + 1
  const response = stride - 1
  const { sums } = node
  const yy = sums[response * stride + response]
  const precision = new Float64Array(size * size)
  const rhs = new Float64Array(size)
  const half = new Float64Array(size)
  const solution = new Float64Array(size)
  const heat = beliefs.fullHeat
  const diagonal = [
    1 / 1 ** 2,
    1 / (0.5 * heat) ** 2,
    1 / (0.06 * heat) ** 2,
    1 / 0.7 ** 2,
    0,
    0,
    1 / beliefs.leakStd ** 2,
    0,
  ]
  const center = [0, 0.3 * heat, 0, 0.5, 0, 0, 0, 0]
  let priorLogDeterminant = 0
  for (const d of diagonal) if (d > 0) priorLogDeterminant += Math.log(d)
  let best: { logWeight: number; fit: GasFit['best'] } | null = null
  beliefs.creepTausS.forEach((creepTauS, creepIndex) => {
    for (let belief = 0; belief < combos.length; belief++) {
      if (first && belief % 3 !== 0) continue
      const combo = combos[belief]
      let priorSquares = 0
      for (let r = 0; r < size; r++) {
        const row = r === place.creep ? baseColumns + creepIndex : r
        for (let c = 0; c <= r; c++) precision[r * size + c] = sums[row * stride + c]
        if (r === place.creep) precision[r * size + r] = sums[row * stride + row]
        rhs[r] = sums[response * stride + row]
        precision[r * size + r] += diagonal[r]
        rhs[r] += diagonal[r] * center[r]
        priorSquares += diagonal[r] * center[r] ** 2
      }
      const [a, b, d] = combo.precision
      const t = place.temperature
      const w = place.barometer
      precision[t * size + t] += a
      precision[w * size + t] += b
      precision[w * size + w] += d
      const [mt, mb] = combo.mean
      rhs[t] += a * mt + b * mb
      rhs[w] += b * mt + d * mb
      priorSquares += a * mt * mt + 2 * b * mt * mb + d * mb * mb
      // A faint hold on the creep keeps the factor positive; it stands for a flat belief.
      precision[size * size - 1] += 1e-2
      if (!factorLower(precision, size)) continue
      solveLower(precision, size, rhs, half)
      solveUpper(precision, size, half, solution)
      let fitted = 0
      let logDeterminant = 0
      for (let r = 0; r < size; r++) {
        fitted += half[r] ** 2
        logDeterminant += 2 * Math.log(precision[r * size + r])
      }
      // Density of the data with the creep left free (flat), all else summed over.
      const flat =
        node.logWeight +
        combo.logWeight -
        0.5 * node.logDeterminant -
        0.5 * (yy + priorSquares - fitted) +
        0.5 * (priorLogDeterminant + combo.logDeterminant) -
        0.5 * logDeterminant +
        0.5 * Math.log(2 * Math.PI)
      // The last 2×2 of the factor is the joint precision of (leak, creep).
      const l11 = precision[place.leak * size + place.leak]
      const l21 = precision[place.creep * size + place.leak]
      const l22 = precision[place.creep * size + place.creep]
      const leakVariance = 1 / (l11 * l11) // given the creep
      const slope = -l21 / l11
      const creepMean = solution[place.creep]
      const creepVariance = 1 / (l22 * l22)
      const atCreep = (creep: number, weight: number): void => {
        if (weight <= 0) return
        const logWeight =
          flat +
          Math.log(weight) -
          0.5 * Math.log(2 * Math.PI * creepVariance) -
          (0.5 * (creep - creepMean) ** 2) / creepVariance
        if (best === null || logWeight > best.logWeight) {
          const coefficients = Float64Array.from(solution)
          best = {
            logWeight,
            fit: {
              lagS: node.lagS,
              creepTauS,
              walkPerS: node.walkPerS,
              whiteScale: node.whiteScale,
              coefficients,
              leakStd: Math.sqrt(leakVariance),
            },
          }
          conditionOnCreep(precision, coefficients, creep)
        }
        if (logWeight < cut) return
        const mean = solution[place.leak] + slope * (creep - creepMean)
        parts.push({ logWeight, mean, variance: leakVariance, belief })
      }
      const share = 1 / beliefs.creepTausS.length
      atCreep(0, (1 - beliefs.creepWeight) * share)
      for (const [sizeOf, weight] of creepLadder) {
        atCreep(sizeOf * beliefs.creepScale, weight * beliefs.creepWeight * share)
      }
    }
  })
  return best
}

/** Moves the solution to where the creep has a given size: the other coefficients follow their covariance with it. */
function conditionOnCreep(factor: Float64Array, coefficients: Float64Array, creep: number): void {
  const unit = new Float64Array(size)
  unit[size - 1] = 1 / factor[size * size - 1]
  const covariance = new Float64Array(size)
  solveUpper(factor, size, unit, covariance)
  const shift = (creep - coefficients[size - 1]) / covariance[size - 1]
  for (let r = 0; r < size; r++) coefficients[r] += covariance[r] * shift
}

function stiffnessOfParts(
  parts: readonly Part[],
  weight: readonly number[],
  combos: readonly Combo[],
): { mean: number; std: number } {
  let total = 0
  let first = 0
  let second = 0
  parts.forEach((part, i) => {
    const { stiffness, stiffnessStd } = combos[part.belief]
    total += weight[i]
    first += weight[i] * stiffness
    second += weight[i] * (stiffness ** 2 + stiffnessStd ** 2)
  })
  const mean = first / total
  return { mean, std: Math.sqrt(Math.max(0, second / total - mean * mean)) }
}
