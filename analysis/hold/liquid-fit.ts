import { factorLower, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'
import { driftFilteredSums } from './drift-filter.ts'
import type { LiquidBeliefs } from './liquid-prior.ts'
import type { Stroke } from './liquid-strokes.ts'
import { type NormalMixture, prunedMixture } from './normal-mixture.ts'

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
const lagsS = [5, 12, 28, 65, 150]
/** Random walk of the sensor over the whole hold, in units of one block's white noise, and the belief in each. */
const walks: readonly (readonly [size: number, weight: number])[] = [
  [0, 0.3],
  [1, 0.25],
  [5, 0.2],
  [25, 0.15],
  [120, 0.1],
]
const whites: readonly (readonly [scale: number, weight: number])[] = [
  [1, 0.6],
  [2.5, 0.3],
  [8, 0.1],
]
/** Shares of air that are told apart. */
const airSteps = 20
/** Share of a swing of temperature that one lag does not follow: wall, fuel and thermometer differ along the line. */
const unfollowedShare = 0.2
/** Step of ln(yield): finer than a stroke can tell, or than the response to temperature can where there is none. */
const yieldStepStroked = 0.015
const yieldStep = 0.05
/** A yield this much less likely by the strokes alone is not tried. */
const hopeless = 30
/**
 * Without a stroke the yield is judged by the shape of the pressure alone, which heat, creep and air going into solution
 * imitate: such evidence counts for this share of itself. A plain response to temperature outweighs that; a faint bend
 * does not.
 */
const unstrokedTrust = 0.15
const negligible = 12
/** Share of what yields beyond the liquid that may go on yielding slowly: hose creep, air going into solution. */
const creepShare = 0.03
const size = 7
const right = new Float64Array(size)
const place = { level: 0, heat: 1, temperature: 2, leak: 3, creep: 4, stroke: 5, lag: 6 } as const

/**
 * What air adds to a straight measure of volume: the gas law makes p − p₀ − a (p − p₀)²/p straight in the volume, where a
 * share a of the yield at p₀ is air.
 */
function bendOf(absolutePa: number, testPa: number): number {
  return (absolutePa - testPa) ** 2 / absolutePa
}

/** Slope of the straight measure against the pressure: what it does to noise. */
function straightSlope(absolutePa: number, testPa: number, airShare: number): number {
  return 1 - airShare * (1 - (testPa / absolutePa) ** 2)
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
  const { temperatureK } = rows
  const longer = temperatureK && lagged(timeS, temperatureK, 1.1 * lagS)
  const shorter = temperatureK && lagged(timeS, temperatureK, lagS / 1.1)
  return [
    new Float64Array(n).fill(1),
    timeS.map((t) => Math.exp(-(t - start) / lagS)),
    temperatureK === null ? new Float64Array(n) : lagged(timeS, temperatureK, lagS),
    leak,
    timeS.map((t) => Math.expm1(-(t - start) / creepTauS)),
    timeS.map((t) => strokes.reduce((sum, stroke) => sum + (stroke.timeS <= t ? stroke.volumeM3 : 0), 0)),
    // change with ln(lag): the true lag lies between the ones tried
    longer && shorter
      ? longer.map((value, i) => (value - shorter[i]) / (2 * Math.log(1.1)))
      : new Float64Array(n),
  ]
}

/** Rows about a stroke are neither before nor after it. */
function variances(rows: LiquidRows, strokes: readonly Stroke[]): Float64Array {
  const near = handS(rows.timeS)
  return rows.variancePa2.map((variance, i) =>
    strokes.some((stroke) => Math.abs(stroke.timeS - rows.timeS[i]) < near) ? 1e12 : variance,
  )
}

function handS(timeS: Float64Array): number {
  return 2 + (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1)
}

interface Setting {
  readonly sums: Float64Array
  readonly logWeight: number
  readonly lagS: number
  /** Share of air in steps, at which the pressure was straightened. */
  readonly airStep: number
}

/** Everything that the data say, once for each lag, noise and share of air: the beliefs are added afterwards. */
function settingsOf(rows: LiquidRows, strokes: readonly Stroke[], steps: ReadonlySet<number>): Setting[] {
  const n = rows.timeS.length
  const stepS = rows.timeS.map((t, i) => (i === 0 ? 0 : t - rows.timeS[i - 1]))
  const middle = Float64Array.from(rows.variancePa2).sort()[n >> 1]
  const walkUnit = middle / (rows.timeS[n - 1] - rows.timeS[0])
  const none = new Float64Array(n)
  const plain = variances(rows, strokes)
  return [...steps].flatMap((airStep) => {
    const airShare = airStep / airSteps
    const slope = rows.absolutePa.map((p) => straightSlope(p, rows.testPa, airShare))
    const response = rows.absolutePa.map((p) => p - rows.testPa - airShare * bendOf(p, rows.testPa))
    const variance = plain.map((v, i) => v * slope[i] * slope[i])
    const logJacobian = slope.reduce((sum, s) => sum + Math.log(s), 0)
    const walkScale = slope.reduce((sum, s) => sum + s * s, 0) / n
    return lagsS.flatMap((lagS) => {
      const columns = [...columnsOf(rows, strokes, lagS), response]
      return walks.flatMap(([walk, walkWeight]) =>
        whites.map(([scale, whiteWeight]) => {
          const sums = new Float64Array((size + 1) ** 2)
          const walkPerS = walk * walk * walkUnit * walkScale
          const logDeterminant = driftFilteredSums(columns, stepS, variance, scale, walkPerS, none, sums)
          const logWeight = Math.log(walkWeight * whiteWeight) - 0.5 * logDeterminant + logJacobian
          return { sums, logWeight, lagS, airStep }
        }),
      )
    })
  })
}

interface Node {
  readonly yieldPerPa: number
  readonly logWeight: number
  readonly airStep: number
  readonly prior: Prior
}

/** The yields that are believed in, with what strokes before the first row say of each. */
function nodesOf(
  rows: LiquidRows,
  beliefs: LiquidBeliefs,
  earlier: readonly Stroke[],
  inside: readonly Stroke[],
): Node[] {
  const finest = earlier.length + inside.length > 0 ? yieldStepStroked : yieldStep
  const nodes = beliefs.families.flatMap((family) => {
    const steps = Math.max(1, Math.ceil(Math.log(family.highPerPa / family.lowPerPa) / finest))
    return Array.from({ length: steps + 1 }, (_, k) => {
      const yieldPerPa = family.lowPerPa * (family.highPerPa / family.lowPerPa) ** (k / steps)
      const airShare = family.airShare * Math.max(0, 1 - beliefs.leastYieldPerPa / yieldPerPa)
      const byStrokes = (strokes: readonly Stroke[]) =>
        strokes.reduce((sum, stroke) => sum + logStroke(stroke, rows, yieldPerPa, airShare), 0)
      const told = byStrokes(earlier)
      return {
        yieldPerPa,
        airStep: Math.round(airShare * airSteps),
        logWeight: Math.log(family.weight / (steps + 1)) + told,
        // strokes inside the rows are fitted there; here they only spare the work on what they rule out
        hope: told + byStrokes(inside),
        prior: priorOf(yieldPerPa, airShare, rows, beliefs, inside),
      }
    })
  })
  const most = nodes.reduce((best, node) => Math.max(best, node.hope), Number.NEGATIVE_INFINITY)
  return nodes.filter((node) => node.hope > most - hopeless)
}

function logStroke(stroke: Stroke, rows: LiquidRows, yieldPerPa: number, airShare: number): number {
  const outsidePa = rows.testPa - rows.testGaugePa
  const straight = (gaugePa: number) => gaugePa - airShare * bendOf(gaugePa + outsidePa, rows.testPa)
  const moved = straight(stroke.afterPa) - straight(stroke.beforePa)
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
 *   p − a (p − p₀)²/p = level + heat + (α_net/y)·T_lagged − (q/y)·∫(g/g_test)dt − creep + strokes/(V y)
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
  const nodes = nodesOf(rows, beliefs, earlier, inside)
  const settings = settingsOf(rows, inside, new Set(nodes.map((node) => node.airStep)))
  const trust = strokes.length > 0 ? 1 : unstrokedTrust
  let best: { logWeight: number; node: Node; setting: Setting; solution: Float64Array } | null = null
  let parts: Part[] = []
  const factor = new Float64Array(size * size)
  const half = new Float64Array(size)
  for (const setting of settings) {
    for (const node of nodes) {
      if (node.airStep !== setting.airStep) continue
      const logDensity = solveWith(setting.sums, node.prior, factor, half)
      if (logDensity === null) continue
      const logWeight = setting.logWeight + node.logWeight + logDensity
      const leading = best === null || logWeight > best.logWeight
      if (!leading && logWeight < best!.logWeight - negligible / trust) continue
      const solution = new Float64Array(size)
      solveUpper(factor, size, half, solution)
      if (leading) best = { logWeight, node, setting, solution }
      parts.push({ logWeight, node, mean: solution[place.leak], variance: varianceOf(factor, place.leak) })
    }
  }
  if (best === null) throw new RangeError('the rows carry no information: no node can be solved')
  parts = trust < 1 ? tempered(parts, trust) : parts
  const most = parts.reduce((top, part) => Math.max(top, part.logWeight), Number.NEGATIVE_INFINITY)
  const drop: NormalMixture = { weight: [], mean: [], std: [] }
  const volume: NormalMixture = { weight: [], mean: [], std: [] }
  const stiffness: NormalMixture = { weight: [], mean: [], std: [] }
  const missedK = Math.hypot(rows.unseenK, unfollowedShare * swingK(rows))
  for (const part of parts) {
    if (part.logWeight < most - negligible) continue
    const weight = Math.exp(part.logWeight - most)
    const { yieldPerPa } = part.node
    const hiddenK = (missedK * beliefs.expansionPerK) / yieldPerPa / rows.statedHoldS
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
    stiffness.std.push((0.5 * yieldStepStroked) / toVolume)
  }
  const columns = columnsOf(rows, inside, best.setting.lagS)
  const { solution } = best
  const otherPa = new Float64Array(rows.timeS.length)
  for (const k of [place.heat, place.temperature, place.creep, place.stroke, place.lag]) {
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

interface Part {
  readonly logWeight: number
  readonly node: Node
  /** Leak slope and its variance, [Pa/s]. */
  readonly mean: number
  readonly variance: number
}

/** Parts whose evidence for their yield counts only in part; what the settings say of each other stays. */
function tempered(parts: readonly Part[], trust: number): Part[] {
  const byNode = new Map<Node, Part[]>()
  for (const part of parts) byNode.set(part.node, [...(byNode.get(part.node) ?? []), part])
  return [...byNode].flatMap(([node, own]) => {
    const top = own.reduce((most, part) => Math.max(most, part.logWeight), Number.NEGATIVE_INFINITY)
    const evidence = top + Math.log(own.reduce((sum, part) => sum + Math.exp(part.logWeight - top), 0))
    const shift = (trust - 1) * (evidence - node.logWeight)
    return own.map((part) => ({ ...part, logWeight: part.logWeight + shift }))
  })
}

interface Prior {
  readonly precision: readonly number[]
  readonly pull: readonly number[]
  readonly squares: number
  readonly logDeterminant: number
}

/** Beliefs in pascal for one yield, in the order of `place`. */
function priorOf(
  yieldPerPa: number,
  airShare: number,
  rows: LiquidRows,
  beliefs: LiquidBeliefs,
  inside: readonly Stroke[],
): Prior {
  const beyond = Math.max(0, yieldPerPa - beliefs.leastYieldPerPa)
  const gauge = Math.abs(rows.testGaugePa)
  const airHeat = airShare * (2 / 7) * gauge
  const strokeStd = inside.reduce((worst, s) => Math.max(worst, s.stdM3 / Math.abs(s.volumeM3)), 0.01)
  const perM3 = 1 / (rows.volumeM3 * yieldPerPa)
  // a thermometer on the outside sees a little more or less than the fuel
  const gain = Math.hypot(beliefs.stdExpansionPerK / beliefs.expansionPerK, 0.12)
  const mean = [0, (0.3 * beliefs.fullHeat) / yieldPerPa, beliefs.expansionPerK / yieldPerPa, 0, 0, perM3, 0]
  const std = [
    10 * gauge,
    // and the fuel may start warmer or colder than its wall
    (0.5 * beliefs.fullHeat + 0.3 * swingK(rows) * beliefs.expansionPerK) / yieldPerPa + 0.3 * airHeat,
    (gain * beliefs.expansionPerK) / yieldPerPa,
    // wide: ten times the test pressure in the hold
    (10 * gauge) / rows.statedHoldS,
    (creepShare * beyond * gauge) / yieldPerPa + 1e-3,
    strokeStd * perM3,
    (0.4 * beliefs.expansionPerK) / yieldPerPa,
  ]
  const precision = std.map((s) => 1 / (s * s))
  return {
    precision,
    pull: mean.map((m, i) => m * precision[i]),
    squares: mean.reduce((sum, m, i) => sum + m * m * precision[i], 0),
    logDeterminant: std.reduce((sum, s) => sum + 2 * Math.log(s), 0),
  }
}

/** How far the temperature went during the hold, [K]. */
function swingK({ temperatureK }: LiquidRows): number {
  if (temperatureK === null) return 0.1
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const t of temperatureK) {
    low = Math.min(low, t)
    high = Math.max(high, t)
  }
  return high - low
}

/** Adds the beliefs to the sums and factors; returns the log-density of the data, null when it cannot be factored. */
function solveWith(
  sums: Float64Array,
  prior: Prior,
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
  solveLower(factor, size, unit, column)
  let total = 0
  for (const value of column) total += value * value
  return total
}
