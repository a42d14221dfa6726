import { driftFilteredSums } from './drift-filter.ts'
import type { LiquidBeliefs, YieldFamily } from './liquid-prior.ts'
import type { Stroke } from './liquid-strokes.ts'
import { type NormalMixture, prunedMixture } from './normal-mixture.ts'
import { factorLower, solveLower, solveUpper } from './small-cholesky.ts'

/** Block averages of a liquid hold, from the end of pump-up to the vent. */
export interface LiquidRows {
  /** Middle of each block, seconds from the recording's start, ascending. */
  readonly timeS: Float64Array
  readonly gaugePa: Float64Array
  readonly absolutePa: Float64Array
  /** Variance of each block's pressure, [Pa²]. */
  readonly variancePa2: Float64Array
  /** Null when the section has no thermometer. */
  readonly temperatureK: Float64Array | null
  /** Stated test pressure, gauge and absolute, [Pa]. */
  readonly testGaugePa: number
  readonly testPa: number
  readonly statedHoldS: number
  /** Start of the hold stage, [s]. */
  readonly holdFromS: number
  /** Volume of what is pressurised, [m³]. */
  readonly volumeM3: number
  /** Temperature trend that the thermometer could miss, [K], and pressure trend of unknown weather, [Pa], one std. */
  readonly unseenK: number
  readonly unseenPa: number
}

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
    readonly yieldPerPa: number
    readonly lagS: number
    /** Rise for each kelvin, [Pa/K]. */
    readonly paPerK: number
    /** Leak slope at the stated pressure, [Pa/s]. */
    readonly leakPaPerS: number
    /** What is not leak (temperature, heat, creep, strokes) at each row, [Pa]. */
    readonly otherPa: Float64Array
  }
}

/** Times fuel in a line takes to follow its wall, [s]: r²/5.8 D with D 8e-8 m²/s. Source: common practice */
const lagsS = [4, 10, 22, 45, 90, 180]
const walks: readonly (readonly [size: number, weight: number])[] = [
  [0, 0.3],
  [0.7, 0.2],
  [3, 0.2],
  [12, 0.15],
  [50, 0.1],
  [200, 0.05],
]
const whites: readonly (readonly [scale: number, weight: number])[] = [
  [1, 0.65],
  [2.5, 0.25],
  [8, 0.1],
]
/** Step of ln(yield): finer than any stroke can tell. */
const yieldStep = 0.015
/** How the yield's bend is sampled: share of it that is air. */
const airShares = [0, 1 / 3, 2 / 3, 1]
const negligible = 12
/** Share of what yields beyond the liquid that may go on yielding slowly: hose creep, air going into solution. */
const creepShare = 0.03
const size = 6
const place = { level: 0, heat: 1, temperature: 2, leak: 3, creep: 4, stroke: 5 } as const

/**
 * Pressure as a straight measure of volume: (1−a)(p − p₀) + a p₀ (1 − p₀/p), where a share a of the yield is air.
 * Its slope at p₀ is 1, so that a volume divided by the yield at p₀ adds to it directly.
 */
function straightened(absolutePa: number, testPa: number, airShare: number): number {
  return (1 - airShare) * (absolutePa - testPa) + airShare * testPa * (1 - testPa / absolutePa)
}

function straightSlope(absolutePa: number, testPa: number, airShare: number): number {
  return 1 - airShare + airShare * (testPa / absolutePa) ** 2
}

function lagged(timeS: Float64Array, values: Float64Array, lagS: number): Float64Array {
  const out = new Float64Array(values.length)
  for (let i = 1; i < values.length; i++) {
    const step = timeS[i] - timeS[i - 1]
    const keep = Math.exp(-step / lagS)
    const slope = (values[i] - values[i - 1]) / step
    // exact for a straight line between the rows
    out[i] =
      values[i] - values[0] - slope * lagS + (out[i - 1] - (values[i - 1] - values[0]) + slope * lagS) * keep
  }
  return out
}

function columnsOf(rows: LiquidRows, strokes: readonly Stroke[], lagS: number): Float64Array[] {
  const { timeS } = rows
  const n = timeS.length
  const start = timeS[0]
  const span = timeS[n - 1] - start
  const leak = new Float64Array(n)
  for (let i = 1; i < n; i++) {
    // laminar: in proportion to the gauge pressure at the moment
    const share = (rows.gaugePa[i] + rows.gaugePa[i - 1]) / (2 * rows.testGaugePa)
    leak[i] = leak[i - 1] - share * (timeS[i] - timeS[i - 1])
  }
  const creepTauS = 0.3 * span
  return [
    new Float64Array(n).fill(1),
    timeS.map((t) => Math.exp(-(t - start) / lagS)),
    rows.temperatureK === null ? new Float64Array(n) : lagged(timeS, rows.temperatureK, lagS),
    leak,
    timeS.map((t) => Math.expm1(-(t - start) / creepTauS)),
    timeS.map((t) => strokes.reduce((sum, stroke) => sum + (stroke.timeS <= t ? stroke.volumeM3 : 0), 0)),
  ]
}

/** Rows about a stroke are neither before nor after it. */
function variances(rows: LiquidRows, strokes: readonly Stroke[], airShare: number): Float64Array {
  return rows.variancePa2.map((variance, i) => {
    const touched = strokes.some((stroke) => Math.abs(stroke.timeS - rows.timeS[i]) < handS(rows.timeS))
    return touched ? 1e12 : variance * straightSlope(rows.absolutePa[i], rows.testPa, airShare) ** 2
  })
}

function handS(timeS: Float64Array): number {
  return 2 + (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1)
}

interface Setting {
  readonly sums: Float64Array
  readonly logWeight: number
  readonly lagS: number
  readonly airShare: number
}

/** Everything that the data say, once for each lag, noise and bend: the beliefs are added afterwards. */
function settingsOf(rows: LiquidRows, strokes: readonly Stroke[]): Setting[] {
  const n = rows.timeS.length
  const stepS = rows.timeS.map((t, i) => (i === 0 ? 0 : t - rows.timeS[i - 1]))
  const middle = Float64Array.from(rows.variancePa2).sort()[n >> 1]
  const walkUnit = middle / (rows.timeS[n - 1] - rows.timeS[0])
  const none = new Float64Array(n)
  return lagsS.flatMap((lagS) => {
    const columns = columnsOf(rows, strokes, lagS)
    return airShares.flatMap((airShare) => {
      const response = rows.absolutePa.map((p) => straightened(p, rows.testPa, airShare))
      const variance = variances(rows, strokes, airShare)
      let logJacobian = 0
      for (const p of rows.absolutePa) logJacobian += Math.log(straightSlope(p, rows.testPa, airShare))
      return walks.flatMap(([walk, walkWeight]) =>
        whites.map(([scale, whiteWeight]) => {
          const sums = new Float64Array((size + 1) ** 2)
          const logDeterminant = driftFilteredSums(
            [...columns, response],
            stepS,
            variance,
            scale,
            walk * walk * walkUnit,
            none,
            sums,
          )
          const logWeight = Math.log(walkWeight * whiteWeight) - 0.5 * logDeterminant + logJacobian
          return { sums, logWeight, lagS, airShare }
        }),
      )
    })
  })
}

interface Node {
  readonly yieldPerPa: number
  readonly airShare: number
  readonly logWeight: number
}

/** The yields that are believed in, with what strokes before the first row say of each. */
function nodesOf(rows: LiquidRows, beliefs: LiquidBeliefs, strokes: readonly Stroke[]): Node[] {
  return beliefs.families.flatMap((family) => {
    const steps = Math.max(1, Math.ceil(Math.log(family.highPerPa / family.lowPerPa) / yieldStep))
    return Array.from({ length: steps + 1 }, (_, k) => {
      const yieldPerPa = family.lowPerPa * (family.highPerPa / family.lowPerPa) ** (k / steps)
      const airShare = airShareOf(family, beliefs, yieldPerPa)
      let logWeight = Math.log(family.weight / (steps + 1))
      for (const stroke of strokes) logWeight += logStroke(stroke, rows, yieldPerPa, airShare)
      return { yieldPerPa, airShare, logWeight }
    })
  })
}

function airShareOf(family: YieldFamily, beliefs: LiquidBeliefs, yieldPerPa: number): number {
  if (family.kind === 'wall') return 0
  const air = Math.max(0, 1 - beliefs.leastYieldPerPa / yieldPerPa)
  return airShares.reduce((best, share) => (Math.abs(share - air) < Math.abs(best - air) ? share : best))
}

function logStroke(stroke: Stroke, rows: LiquidRows, yieldPerPa: number, airShare: number): number {
  const outsidePa = rows.testPa - rows.testGaugePa
  const moved =
    straightened(stroke.afterPa + outsidePa, rows.testPa, airShare) -
    straightened(stroke.beforePa + outsidePa, rows.testPa, airShare)
  const expected = stroke.volumeM3 / (rows.volumeM3 * yieldPerPa)
  const std = Math.hypot(stroke.stdPa, (expected * stroke.stdM3) / stroke.volumeM3)
  return -0.5 * ((moved - expected) / std) ** 2 - Math.log(std)
}

/**
 * Estimates the leak of a section full of fuel from everything after pump-up.
 *
 * Volume, not pressure, is what leaks and what grows with temperature; how much pressure goes with a volume (the yield) is
 * what is not known. It is summed over all that is believed; strokes of known volume and the response to temperature,
 * whose size is known from the fuel, narrow it. Given the yield, the lag and the noise the model is linear:
 *
 *   p = level + heat + (α_net/y)·T_lagged − (q/y)·∫(g/g_test)dt − creep + strokes/(V y)
 *
 * @param rows at least 8
 * @param beliefs of the section
 * @param strokes all of them; those inside the rows are fitted, those before weigh the yields
 * @throws RangeError with fewer than 8 rows
 */
export function liquidFit(rows: LiquidRows, beliefs: LiquidBeliefs, strokes: readonly Stroke[]): LiquidFit {
  if (rows.timeS.length < 8) throw new RangeError('a liquid hold needs at least 8 rows')
  const earlier = strokes.filter((stroke) => stroke.timeS <= rows.timeS[0])
  const inside = strokes.filter((stroke) => stroke.timeS > rows.timeS[0])
  const settings = settingsOf(rows, inside)
  const nodes = nodesOf(rows, beliefs, earlier)
  const drop: NormalMixture = { weight: [], mean: [], std: [] }
  const volume: NormalMixture = { weight: [], mean: [], std: [] }
  const stiffness: NormalMixture = { weight: [], mean: [], std: [] }
  let best: { logWeight: number; node: Node; setting: Setting; solution: Float64Array } | null = null
  const parts: { logWeight: number; node: Node; mean: number; variance: number }[] = []
  const factor = new Float64Array(size * size)
  const half = new Float64Array(size)
  for (const setting of settings) {
    for (const node of nodes) {
      if (node.airShare !== setting.airShare) continue
      const prior = priorOf(node, rows, beliefs, inside)
      const logDensity = solveWith(setting.sums, prior, factor, half)
      if (logDensity === null) continue
      const logWeight = setting.logWeight + node.logWeight + logDensity
      const leading = best === null || logWeight > best.logWeight
      if (!leading && logWeight < best!.logWeight - negligible) continue
      const solution = new Float64Array(size)
      solveUpper(factor, size, half, solution)
      if (leading) best = { logWeight, node, setting, solution }
      parts.push({ logWeight, node, mean: solution[place.leak], variance: varianceOf(factor, place.leak) })
    }
  }
  if (best === null) throw new RangeError('the rows carry no information: no node can be solved')
  for (const part of parts) {
    if (part.logWeight < best.logWeight - negligible) continue
    const weight = Math.exp(part.logWeight - best.logWeight)
    const { yieldPerPa } = part.node
    const hiddenK = (rows.unseenK * beliefs.expansionPerK) / yieldPerPa / rows.statedHoldS
    const std = Math.sqrt(part.variance + hiddenK ** 2 + (rows.unseenPa / rows.statedHoldS) ** 2)
    const toVolume = yieldPerPa * rows.volumeM3
    drop.weight.push(weight)
    drop.mean.push(part.mean * rows.statedHoldS)
    drop.std.push(std * rows.statedHoldS)
    volume.weight.push(weight)
    volume.mean.push(part.mean * toVolume)
    volume.std.push(std * toVolume)
    stiffness.weight.push(weight)
    stiffness.mean.push(1 / toVolume)
    stiffness.std.push((0.5 * yieldStep) / toVolume)
  }
  const columns = columnsOf(rows, inside, best.setting.lagS)
  const { solution } = best
  const otherPa = new Float64Array(rows.timeS.length)
  for (const k of [place.heat, place.temperature, place.creep, place.stroke]) {
    for (let i = 0; i < otherPa.length; i++) otherPa[i] += solution[k] * columns[k][i]
  }
  return {
    drop: prunedMixture(drop),
    volume: prunedMixture(volume),
    paPerM3: prunedMixture(stiffness),
    statedHoldS: rows.statedHoldS,
    best: {
      yieldPerPa: best.node.yieldPerPa,
      lagS: best.setting.lagS,
      paPerK: solution[place.temperature],
      leakPaPerS: solution[place.leak],
      otherPa,
    },
  }
}

interface Prior {
  readonly mean: readonly number[]
  readonly std: readonly number[]
}

/** Beliefs in pascal for one yield, in the order of `place`. */
function priorOf(node: Node, rows: LiquidRows, beliefs: LiquidBeliefs, inside: readonly Stroke[]): Prior {
  const y = node.yieldPerPa
  const beyond = Math.max(0, y - beliefs.leastYieldPerPa)
  const gauge = Math.abs(rows.testGaugePa)
  const airHeat = node.airShare * (2 / 7) * gauge
  const strokeStd = inside.reduce((worst, s) => Math.max(worst, s.stdM3 / Math.abs(s.volumeM3)), 0.01)
  const perM3 = 1 / (rows.volumeM3 * y)
  const gain = Math.hypot(beliefs.stdExpansionPerK / beliefs.expansionPerK, 0.12)
  return {
    // a thermometer on the outside sees a little more or less than the fuel
    mean: [0, (0.3 * beliefs.fullHeat) / y, beliefs.expansionPerK / y, 0, 0, perM3],
    std: [
      10 * gauge,
      (0.5 * beliefs.fullHeat) / y + 0.3 * airHeat,
      (gain * beliefs.expansionPerK) / y,
      gauge / 10,
      (creepShare * beyond * gauge) / y + 1e-3,
      strokeStd * perM3,
    ],
  }
}

/** Adds the beliefs to the sums and factors; returns the log-density of the data, null when it cannot be factored. */
function solveWith(
  sums: Float64Array,
  prior: Prior,
  factor: Float64Array,
  half: Float64Array,
): number | null {
  const stride = size + 1
  const rhs = new Float64Array(size)
  let squares = sums[size * stride + size]
  let logDeterminant = 0
  for (let r = 0; r < size; r++) {
    const precision = 1 / (prior.std[r] * prior.std[r])
    for (let c = 0; c < r; c++) factor[r * size + c] = sums[r * stride + c]
    factor[r * size + r] = sums[r * stride + r] + precision
    rhs[r] = sums[size * stride + r] + precision * prior.mean[r]
    squares += precision * prior.mean[r] * prior.mean[r]
    logDeterminant -= Math.log(precision)
  }
  if (!factorLower(factor, size)) return null
  solveLower(factor, size, rhs, half)
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
  solveLower(factor, size, unit, column)
  let total = 0
  for (const value of column) total += value * value
  return total
}
