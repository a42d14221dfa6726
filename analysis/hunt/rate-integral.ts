import { memoize } from '#analysis/numeric/memoize.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import type { LeakRun } from './leak-options.ts'
import type { LeakProblem } from './leak-problem.ts'

/** Posterior rates of one set of runs, given the sums. */
export interface SetRates {
  /** Mean of each rate. */
  readonly mean: Float64Array
  /** For each run: share of the weight, first and second moment, three numbers per class. */
  readonly moments: readonly Float64Array[]
}

/** Most runs of a set; larger sets belong to the tail. */
export const mostRunsTogether = 9
/** Most class combinations of a set; sets with more belong to the tail. */
const mostCombinations = 5000
/** Largest deviation of an explained sum, in standard deviations. */
const reachStd = 6
/** A class reaches three standard deviations around its mean. */
const classLow = 0.4
const classHigh = 1.6

/**
 * Integrates the rates of a set of leaks against the measured sums: ∫ Π prior(r)·Π N(y; Σ a·r, σ²) dr over r ≥ 0, as a sum
 * over the rate classes, each in closed form: with class means m, spreads s, M = diag(1/s²) + AᵀD⁻¹A and h = m/s² + AᵀD⁻¹y,
 * log Z = ½hᵀM⁻¹h − ½Σm²/s² − ½ log det M − Σ log s. The cut at zero is Φ of each rate given the later ones.
 *
 * Interval propagation through the rows first removes classes that the sums exclude. Runs are identified by their shape
 * (factors and classes), so that no set of shapes is integrated twice.
 *
 * @param widened factor on the standard uncertainty of every row.
 */
export function rateIntegral({ rates, rows }: LeakProblem, widened = 1) {
  const means = Float64Array.from(rates.mean)
  const stds = Float64Array.from(rates.std)
  const y = Float64Array.from(rows, (r) => r.molPerS)
  const variance = Float64Array.from(rows, (r) => (r.stdMolPerS * widened) ** 2)
  const rowLow = y.map((sum, i) => sum - reachStd * Math.sqrt(variance[i]))
  const rowHigh = y.map((sum, i) => sum + reachStd * Math.sqrt(variance[i]))
  const perfect = y.reduce((sum, each, i) => sum + (0.5 * each * each) / variance[i], 0)
  const everyShape: Shape[] = []
  const gram = new Float64Array(mostRunsTogether ** 2)
  const lower = new Float64Array(mostRunsTogether ** 2)
  const white = new Float64Array(mostRunsTogether)
  const low = new Float64Array(mostRunsTogether)
  const high = new Float64Array(mostRunsTogether)
  const classes = new Int32Array(mostRunsTogether)
  const center = new Float64Array(mostRunsTogether)
  let current: readonly Shape[] = []
  let total = 0
  /** Log weight of a perfect fit to the rows of the set. */
  let offset = 0
  let noted: Float64Array[] | null = null

  /** Rows that need a leak of this sign, +1 or −1. */
  function rowsInNeed(sign: 1 | -1): number[] {
    return [...y.keys()].filter((i) => (sign > 0 ? rowLow[i] > 0 : rowHigh[i] < 0))
  }

  /** Index of a run's shape, equal for runs that no sum distinguishes. */
  const shape = memoize(
    ({ column, classLogs }: LeakRun): number => {
      const factors = new Float64Array(y.length)
      for (const { row, factor } of column) factors[row] = factor
      const pull = column.reduce((sum, c) => sum + (c.factor * y[c.row]) / variance[c.row], 0)
      return everyShape.push({ column, classLogs, factors, pull }) - 1
    },
    ({ column, classLogs }) => JSON.stringify([column, classLogs]),
  )

  /**
   * Weight of a set of shapes, in ascending order; null if it has too many class combinations.
   * Shapes that no sum links are integrated separately.
   */
  function weigh(shapes: readonly number[]): number | null {
    let weight = 1
    for (const part of partsOf(shapes)) {
      const known = weightOf(part)
      if (known === null) return null
      weight *= known
      if (weight === 0) return 0
    }
    return weight * untouched(shapes)
  }

  const weightOf = memoize((part: readonly number[]) => integrate(part, null), String)

  /** Rates of a set of shapes, in ascending order, in the order of the set. */
  function ratesOf(shapes: readonly number[]): SetRates {
    const mean = new Float64Array(shapes.length)
    const moments: Float64Array[] = []
    const left = [...shapes]
    for (const part of partsOf(shapes)) {
      const known = momentsOf(part)
      part.forEach((shape, i) => {
        const at = left.indexOf(shape)
        left[at] = -1
        mean[at] = known[i].reduce((sum, m, k) => (k % 3 === 1 ? sum + m : sum), 0)
        moments[at] = known[i]
      })
    }
    return { mean, moments }
  }

  const momentsOf = memoize((part: readonly number[]): readonly Float64Array[] => {
    const each = part.map(() => new Float64Array(3 * means.length))
    const weight = integrate(part, each) ?? 1
    return each.map((of) => of.map((moment) => moment / weight))
  }, String)

  /** Groups of shapes linked by rows, each in ascending order. */
  function partsOf(shapes: readonly number[]): number[][] {
    let parts: { shapes: number[]; rows: Set<number> }[] = []
    for (const shape of shapes) {
      const rows = new Set(everyShape[shape].column.map((c) => c.row))
      const linked = parts.filter((p) => [...rows].some((r) => p.rows.has(r)))
      const joined = { shapes: [...linked.flatMap((p) => p.shapes), shape].sort((a, b) => a - b), rows }
      for (const p of linked) for (const r of p.rows) joined.rows.add(r)
      parts = [...parts.filter((p) => !linked.includes(p)), joined]
    }
    return parts.map((p) => p.shapes)
  }

  /** Weight of the rows without any of the shapes. */
  function untouched(shapes: readonly number[]): number {
    let log = -perfect
    const touched = new Set(shapes.flatMap((s) => everyShape[s].column.map((c) => c.row)))
    for (const row of touched) log += (0.5 * y[row] ** 2) / variance[row]
    return Math.exp(log)
  }

  function integrate(shapes: readonly number[], moments: Float64Array[] | null): number | null {
    current = shapes.map((s) => everyShape[s])
    if (!narrow(current)) return 0
    if (combinations() > mostCombinations) return null
    noted = moments
    total = 0
    offset = 0
    for (const row of new Set(current.flatMap((s) => s.column.map((c) => c.row))))
      offset += (0.5 * y[row] ** 2) / variance[row]
    for (let i = 0; i < current.length; i++)
      for (let j = 0; j <= i; j++) gram[i * mostRunsTogether + j] = product(current[i], current[j].factors)
    descend(0, 0)
    return total
  }

  /** Number of class combinations to try; the last class follows from the others. */
  function combinations(): number {
    let count = 1
    for (let i = 0; i < current.length - 1; i++) {
      let classes = 0
      for (const m of means) if (classHigh * m >= low[i] && classLow * m <= high[i]) classes++
      count *= classes
    }
    return count
  }

  function product({ column }: Shape, factors: Float64Array): number {
    let sum = 0
    for (const { row, factor } of column) sum += (factor * factors[row]) / variance[row]
    return sum
  }

  /** Narrows the rates to bounds consistent with the sums; false when none are. */
  function narrow(runs: readonly Shape[]): boolean {
    const least = classLow * means[0]
    const most = classHigh * means[means.length - 1]
    low.fill(least, 0, runs.length)
    high.fill(most, 0, runs.length)
    for (let sweep = 0; sweep < 2; sweep++)
      for (let i = 0; i < runs.length; i++)
        for (const { row, factor } of runs[i].column) {
          let lowest = 0
          let highest = 0
          for (let j = 0; j < runs.length; j++) {
            const f = runs[j].factors[row]
            if (j === i || f === 0) continue
            lowest += f > 0 ? f * low[j] : f * high[j]
            highest += f > 0 ? f * high[j] : f * low[j]
          }
          const from = (rowLow[row] - highest) / factor
          const to = (rowHigh[row] - lowest) / factor
          low[i] = Math.max(low[i], Math.min(from, to))
          high[i] = Math.min(high[i], Math.max(from, to))
          if (low[i] > high[i]) return false
        }
    return true
  }

  function descend(i: number, log: number): void {
    const n = current.length
    if (i === n) {
      arrive(log)
      return
    }
    const at = i * mostRunsTogether
    let known = 0
    let seen = 0
    for (let j = 0; j < i; j++) {
      let sum = gram[at + j]
      for (let l = 0; l < j; l++) sum -= lower[at + l] * lower[j * mostRunsTogether + l]
      const f = sum / lower[j * mostRunsTogether + j]
      lower[at + j] = f
      known += f * f
      seen += f * white[j]
    }
    const { classLogs, pull } = current[i]
    const rest = gram[at + i] - known
    const isLast = i === n - 1
    for (let k = 0; k < classLogs.length; k++) {
      const m = means[k]
      if (classHigh * m < low[i] || classLow * m > high[i]) continue
      const s = stds[k]
      // The remainder is known to 1/√rest: a last class far from it has no weight.
      if (isLast && rest > 0) {
        const gap = m - (pull - seen) / rest
        if (gap * gap > farStd2 * (s * s + 1 / rest)) continue
      }
      const prior = 1 / (s * s)
      const root = Math.sqrt(prior + rest)
      const z = (m * prior + pull - seen) / root
      lower[at + i] = root
      white[i] = z
      classes[i] = k
      descend(i + 1, log + classLogs[k] + 0.5 * (z * z - m * m * prior) - Math.log(root * s))
    }
  }

  function arrive(log: number): void {
    const n = current.length
    if (log - offset < -60) return
    const rates = center
    let cut = 0
    for (let i = n - 1; i >= 0; i--) {
      let z = white[i]
      for (let j = i + 1; j < n; j++) z -= lower[j * mostRunsTogether + i] * rates[j]
      rates[i] = Math.max(0, z / lower[i * mostRunsTogether + i])
      if (z < 4) cut += logNormalCdf(z)
    }
    const weight = Math.exp(log + cut - offset)
    total += weight
    if (noted === null) return
    const std = spreads(n)
    for (let i = 0; i < n; i++) {
      const moments = noted[i]
      const k = 3 * classes[i]
      moments[k] += weight
      moments[k + 1] += weight * rates[i]
      moments[k + 2] += weight * (rates[i] ** 2 + std[i] ** 2)
    }
  }

  /** Square roots of the diagonal of M⁻¹. */
  function spreads(n: number): Float64Array {
    const std = new Float64Array(n)
    const column = new Float64Array(n)
    for (let c = 0; c < n; c++) {
      for (let i = c; i < n; i++) {
        let sum = i === c ? 1 : 0
        for (let j = c; j < i; j++) sum -= lower[i * mostRunsTogether + j] * column[j]
        column[i] = sum / lower[i * mostRunsTogether + i]
      }
      // Column c of L⁻¹: its squares belong to rows c and below of L⁻ᵀ·L⁻¹.
      let squares = 0
      for (let i = c; i < n; i++) squares += column[i] * column[i]
      std[c] = Math.sqrt(squares)
    }
    return std
  }

  return { rowsInNeed, shape, weigh, rates: ratesOf }
}

export type RateIntegral = ReturnType<typeof rateIntegral>

/** Squared distance in standard deviations at which a class has negligible weight: e^−24. */
const farStd2 = 49

interface Shape {
  readonly column: LeakRun['column']
  readonly classLogs: readonly number[]
  readonly factors: Float64Array
  /** AᵀD⁻¹y. */
  readonly pull: number
}

/** log Φ(z), also far below zero. *Source*: first term of the asymptotic series, Abramowitz and Stegun 26.2.12 (from memory). */
function logNormalCdf(z: number): number {
  return z > -8 ? Math.log(normalCdf(z)) : -0.5 * z * z - Math.log(-z * Math.sqrt(2 * Math.PI))
}
