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
 */
export class RateIntegral {
  readonly #mean: Float64Array
  readonly #std: Float64Array
  readonly #y: Float64Array
  readonly #variance: Float64Array
  readonly #rowLow: Float64Array
  readonly #rowHigh: Float64Array
  readonly #perfect: number
  readonly #shapes: Shape[] = []
  readonly #gram = new Float64Array(mostRunsTogether ** 2)
  readonly #factor = new Float64Array(mostRunsTogether ** 2)
  readonly #white = new Float64Array(mostRunsTogether)
  readonly #low = new Float64Array(mostRunsTogether)
  readonly #high = new Float64Array(mostRunsTogether)
  readonly #classes = new Int32Array(mostRunsTogether)
  readonly #center = new Float64Array(mostRunsTogether)
  #set: readonly Shape[] = []
  #sum = 0
  /** Log weight of a perfect fit to the rows of the set. */
  #offset = 0
  #moments: Float64Array[] | null = null

  /** @param widened factor on the standard uncertainty of every row. */
  constructor({ rates, rows }: LeakProblem, widened = 1) {
    this.#mean = Float64Array.from(rates.mean)
    this.#std = Float64Array.from(rates.std)
    this.#y = Float64Array.from(rows, (r) => r.molPerS)
    this.#variance = Float64Array.from(rows, (r) => (r.stdMolPerS * widened) ** 2)
    this.#rowLow = this.#y.map((y, i) => y - reachStd * Math.sqrt(this.#variance[i]))
    this.#rowHigh = this.#y.map((y, i) => y + reachStd * Math.sqrt(this.#variance[i]))
    this.#perfect = this.#y.reduce((sum, y, i) => sum + (0.5 * y * y) / this.#variance[i], 0)
  }

  /** Rows that need a leak of this sign, +1 or −1. */
  rowsInNeed(sign: 1 | -1): number[] {
    return [...this.#y.keys()].filter((i) => (sign > 0 ? this.#rowLow[i] > 0 : this.#rowHigh[i] < 0))
  }

  /** Index of a run's shape, equal for runs that no sum distinguishes. */
  readonly shape = memoize(
    ({ column, classLogs }: LeakRun): number => {
      const factors = new Float64Array(this.#y.length)
      for (const { row, factor } of column) factors[row] = factor
      const pull = column.reduce((sum, c) => sum + (c.factor * this.#y[c.row]) / this.#variance[c.row], 0)
      return this.#shapes.push({ column, classLogs, factors, pull }) - 1
    },
    ({ column, classLogs }) => JSON.stringify([column, classLogs]),
  )

  /**
   * Weight of a set of shapes, in ascending order; null if it has too many class combinations.
   * Shapes that no sum links are integrated separately.
   */
  weigh(shapes: readonly number[]): number | null {
    let weight = 1
    for (const part of this.#parts(shapes)) {
      const known = this.#weightOf(part)
      if (known === null) return null
      weight *= known
      if (weight === 0) return 0
    }
    return weight * this.#untouched(shapes)
  }

  readonly #weightOf = memoize((part: readonly number[]) => this.#integrate(part, null), String)

  /** Rates of a set of shapes, in ascending order, in the order of the set. */
  rates(shapes: readonly number[]): SetRates {
    const mean = new Float64Array(shapes.length)
    const moments: Float64Array[] = []
    const left = [...shapes]
    for (const part of this.#parts(shapes)) {
      const known = this.#momentsOf(part)
      part.forEach((shape, i) => {
        const at = left.indexOf(shape)
        left[at] = -1
        mean[at] = known[i].reduce((sum, m, k) => (k % 3 === 1 ? sum + m : sum), 0)
        moments[at] = known[i]
      })
    }
    return { mean, moments }
  }

  readonly #momentsOf = memoize((part: readonly number[]): readonly Float64Array[] => {
    const each = part.map(() => new Float64Array(3 * this.#mean.length))
    const weight = this.#integrate(part, each) ?? 1
    return each.map((of) => of.map((moment) => moment / weight))
  }, String)

  /** Groups of shapes linked by rows, each in ascending order. */
  #parts(shapes: readonly number[]): number[][] {
    let parts: { shapes: number[]; rows: Set<number> }[] = []
    for (const shape of shapes) {
      const rows = new Set(this.#shapes[shape].column.map((c) => c.row))
      const linked = parts.filter((p) => [...rows].some((r) => p.rows.has(r)))
      const joined = { shapes: [...linked.flatMap((p) => p.shapes), shape].sort((a, b) => a - b), rows }
      for (const p of linked) for (const r of p.rows) joined.rows.add(r)
      parts = [...parts.filter((p) => !linked.includes(p)), joined]
    }
    return parts.map((p) => p.shapes)
  }

  /** Weight of the rows without any of the shapes. */
  #untouched(shapes: readonly number[]): number {
    let log = -this.#perfect
    const touched = new Set(shapes.flatMap((s) => this.#shapes[s].column.map((c) => c.row)))
    for (const row of touched) log += (0.5 * this.#y[row] ** 2) / this.#variance[row]
    return Math.exp(log)
  }

  #integrate(shapes: readonly number[], moments: Float64Array[] | null): number | null {
    this.#set = shapes.map((s) => this.#shapes[s])
    if (!this.#narrow(this.#set)) return 0
    if (this.#combinations() > mostCombinations) return null
    this.#moments = moments
    this.#sum = 0
    this.#offset = 0
    for (const row of new Set(this.#set.flatMap((s) => s.column.map((c) => c.row))))
      this.#offset += (0.5 * this.#y[row] ** 2) / this.#variance[row]
    for (let i = 0; i < this.#set.length; i++)
      for (let j = 0; j <= i; j++)
        this.#gram[i * mostRunsTogether + j] = this.#product(this.#set[i], this.#set[j].factors)
    this.#descend(0, 0)
    return this.#sum
  }

  /** Number of class combinations to try; the last class follows from the others. */
  #combinations(): number {
    let count = 1
    for (let i = 0; i < this.#set.length - 1; i++) {
      let classes = 0
      for (const m of this.#mean)
        if (classHigh * m >= this.#low[i] && classLow * m <= this.#high[i]) classes++
      count *= classes
    }
    return count
  }

  #product({ column }: Shape, factors: Float64Array): number {
    let sum = 0
    for (const { row, factor } of column) sum += (factor * factors[row]) / this.#variance[row]
    return sum
  }

  /** Narrows the rates to bounds consistent with the sums; false when none are. */
  #narrow(runs: readonly Shape[]): boolean {
    const low = this.#low
    const high = this.#high
    const least = classLow * this.#mean[0]
    const most = classHigh * this.#mean[this.#mean.length - 1]
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
          const from = (this.#rowLow[row] - highest) / factor
          const to = (this.#rowHigh[row] - lowest) / factor
          low[i] = Math.max(low[i], Math.min(from, to))
          high[i] = Math.min(high[i], Math.max(from, to))
          if (low[i] > high[i]) return false
        }
    return true
  }

  #descend(i: number, log: number): void {
    const n = this.#set.length
    if (i === n) {
      this.#arrive(log)
      return
    }
    const factor = this.#factor
    const white = this.#white
    const at = i * mostRunsTogether
    let known = 0
    let seen = 0
    for (let j = 0; j < i; j++) {
      let sum = this.#gram[at + j]
      for (let l = 0; l < j; l++) sum -= factor[at + l] * factor[j * mostRunsTogether + l]
      const f = sum / factor[j * mostRunsTogether + j]
      factor[at + j] = f
      known += f * f
      seen += f * white[j]
    }
    const { classLogs, pull } = this.#set[i]
    const rest = this.#gram[at + i] - known
    const isLast = i === n - 1
    for (let k = 0; k < classLogs.length; k++) {
      const m = this.#mean[k]
      if (classHigh * m < this.#low[i] || classLow * m > this.#high[i]) continue
      const s = this.#std[k]
      // The remainder is known to 1/√rest: a last class far from it has no weight.
      if (isLast && rest > 0) {
        const gap = m - (pull - seen) / rest
        if (gap * gap > farStd2 * (s * s + 1 / rest)) continue
      }
      const prior = 1 / (s * s)
      const root = Math.sqrt(prior + rest)
      const z = (m * prior + pull - seen) / root
      factor[at + i] = root
      white[i] = z
      this.#classes[i] = k
      this.#descend(i + 1, log + classLogs[k] + 0.5 * (z * z - m * m * prior) - Math.log(root * s))
    }
  }

  #arrive(log: number): void {
    const n = this.#set.length
    if (log - this.#offset < -60) return
    const rates = this.#center
    let cut = 0
    for (let i = n - 1; i >= 0; i--) {
      let z = this.#white[i]
      for (let j = i + 1; j < n; j++) z -= this.#factor[j * mostRunsTogether + i] * rates[j]
      rates[i] = Math.max(0, z / this.#factor[i * mostRunsTogether + i])
      if (z < 4) cut += logNormalCdf(z)
    }
    const weight = Math.exp(log + cut - this.#offset)
    this.#sum += weight
    if (this.#moments === null) return
    const std = this.#spreads(n)
    for (let i = 0; i < n; i++) {
      const moments = this.#moments[i]
      const k = 3 * this.#classes[i]
      moments[k] += weight
      moments[k + 1] += weight * rates[i]
      moments[k + 2] += weight * (rates[i] ** 2 + std[i] ** 2)
    }
  }

  /** Square roots of the diagonal of M⁻¹. */
  #spreads(n: number): Float64Array {
    const factor = this.#factor
    const std = new Float64Array(n)
    const column = new Float64Array(n)
    for (let c = 0; c < n; c++) {
      for (let i = c; i < n; i++) {
        let sum = i === c ? 1 : 0
        for (let j = c; j < i; j++) sum -= factor[i * mostRunsTogether + j] * column[j]
        column[i] = sum / factor[i * mostRunsTogether + i]
      }
      // Column c of L⁻¹: its squares belong to rows c and below of L⁻ᵀ·L⁻¹.
      let squares = 0
      for (let i = c; i < n; i++) squares += column[i] * column[i]
      std[c] = Math.sqrt(squares)
    }
    return std
  }
}

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
