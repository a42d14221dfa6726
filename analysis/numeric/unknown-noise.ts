import { factorLower, logDeterminant, solveLower } from '#analysis/numeric/cholesky.ts'
import { memoize } from '#analysis/numeric/memoize.ts'
import { normalDensity } from '#analysis/numeric/normal-distribution.ts'
import { studentTQuantile, studentTUpperTail } from '#analysis/numeric/student-t.ts'

/** Estimate of one column, given the fitted ones. */
export interface ColumnFit {
  /** Coefficient of the column with its 95 % interval. */
  readonly value: number
  readonly low: number
  readonly high: number
  readonly std: number
  /** One-sided tail of the test that the coefficient is zero. */
  readonly tail: number
  /** Bayes factor of the column against none (unit-information prior). */
  readonly bayesFactor: number
  /** Logarithm of the likelihood with the column fitted, up to a constant of the data. */
  readonly logLikelihood: number
}

/** Variance of the random walk from block to block over that of the blocks' scatter; and correlation of that scatter. */
const walks = [0, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 10]
const correlations = [0, 0.4, 0.8]

/** Half-width of a 95 % interval in standard deviations; a search asks for the same degrees of freedom a hundred times. */
const quantileOf = memoize((degrees: number) => studentTQuantile(0.975, degrees))

/** One noise model, whitened: its Cholesky factor, and the columns fitted so far as an orthonormal basis. */
interface NoiseKind {
  readonly factor: Float64Array
  readonly halfLogDeterminant: number
  base: Float64Array[]
  /** Half the log determinant of the fitted columns. */
  halfLogColumns: number
  residual: Float64Array
  /** Sum of the squares of the residual. */
  squares: number
}

/**
 * Fits columns to a row of block means, one at a time, together with level, slope and curvature.
 *
 * The noise is scatter, correlated from block to block or not, plus a random walk. Their sizes are unknown, so every fit
 * averages over 24 noise models, each weighted by its restricted likelihood with the column fitted. A drifting sensor is
 * therefore no event, and the interval includes the uncertainty of the noise.
 * *Source*: generalized least squares (Aitken 1935), restricted likelihood (Patterson & Thompson 1971).
 */
export class UnknownNoiseFit {
  private readonly kinds: NoiseKind[] = []
  private fitted = 0
  /** Buffer for the residual of a tested column. */
  private readonly rest: Float64Array

  constructor(
    private readonly timeS: Float64Array,
    value: Float64Array,
  ) {
    const count = timeS.length
    this.rest = new Float64Array(count)
    const step = (timeS[count - 1] - timeS[0]) / (count - 1)
    const scatters = correlations.map((correlation) => scatterOf(timeS, step, correlation))
    for (const walk of walks)
      for (const scatter of scatters) {
        const factor = new Float64Array(count * count)
        for (let i = 0; i < count; i++)
          for (let j = 0; j <= i; j++)
            factor[i * count + j] = scatter[i * count + j] + (walk * (timeS[j] - timeS[0])) / step
        if (!factorLower(factor, count)) continue
        const halfLogDeterminant = 0.5 * logDeterminant(factor, count)
        const residual = solveLower(factor, count, value, new Float64Array(count))
        this.kinds.push({
          factor,
          halfLogDeterminant,
          base: [],
          halfLogColumns: 0,
          residual,
          squares: dot(residual, residual),
        })
      }
    const middle = (timeS[0] + timeS[count - 1]) / 2
    const half = (timeS[count - 1] - timeS[0]) / 2
    for (const power of [0, 1, 2]) this.accept(timeS.map((t) => ((t - middle) / half) ** power))
  }

  /** Null where the column is collinear with the fitted ones. */
  test(column: Float64Array): ColumnFit | null {
    const degrees = this.timeS.length - this.fitted - 1
    const { rest } = this
    const fits = this.kinds.flatMap((kind) => {
      const norm = orthogonal(kind, column, rest)
      if (!(norm > 1e-6)) return []
      const along = dot(rest, kind.residual) / norm
      const left = Math.max(1e-300, kind.squares - along * along)
      const std = Math.sqrt(left / degrees) / norm
      const log =
        -kind.halfLogDeterminant - kind.halfLogColumns - Math.log(norm) - 0.5 * degrees * Math.log(left)
      return [{ value: along / norm, std, log }]
    })
    if (fits.length === 0) return null
    const top = Math.max(...fits.map((f) => f.log))
    const total = fits.reduce((sum, f) => sum + Math.exp(f.log - top), 0)
    let value = 0
    let square = 0
    let tail = 0
    for (const f of fits) {
      const weight = Math.exp(f.log - top) / total
      value += weight * f.value
      square += weight * (f.std ** 2 + f.value ** 2)
      // Below two standard uncertainties nothing is an event, so the exact tail is not computed.
      const t = Math.abs(f.value) / f.std
      tail += weight * (t < 2 ? 0.5 : studentTUpperTail(t, degrees))
    }
    const std = Math.sqrt(Math.max(0, square - value ** 2))
    const half = quantileOf(degrees) * std
    const t = value / std
    const bayesFactor = (1 + (t * t) / degrees) ** ((degrees + 1) / 2) / Math.sqrt(1 + this.timeS.length)
    const logLikelihood = top + Math.log(total)
    const bounded = Math.min(1e12, bayesFactor)
    return { value, std, low: value - half, high: value + half, tail, bayesFactor: bounded, logLikelihood }
  }

  /**
   * Whether the tail of `test` can be below a level: a bound at a tenth of the cost, for a search over many columns.
   * The tail of Student's t is above the normal one, and that above φ(t)·t/(1 + t²).
   */
  canReach(column: Float64Array, level: number): boolean {
    const degrees = this.timeS.length - this.fitted - 1
    const { rest } = this
    const first = leadingZeros(column)
    let top = Number.NEGATIVE_INFINITY
    let total = 0
    let tail = 0
    for (const kind of this.kinds) {
      solveLower(kind.factor, column.length, column, rest, first)
      const whole = dot(rest, rest, first)
      let square = whole
      for (const unit of kind.base) square -= dot(unit, rest, first) ** 2
      // Too short for a bound.
      if (!(square > 1e-6 * whole)) return true
      const along = dot(rest, kind.residual, first) ** 2 / square
      const left = Math.max(1e-300, kind.squares - along)
      const log =
        -kind.halfLogDeterminant -
        kind.halfLogColumns -
        0.5 * Math.log(square) -
        0.5 * degrees * Math.log(left)
      const t = Math.max(2, Math.sqrt((along * degrees) / left))
      if (log > top) {
        const less = Math.exp(top - log)
        total *= less
        tail *= less
        top = log
      }
      const weight = Math.exp(log - top)
      total += weight
      tail += (weight * normalDensity(t) * t) / (1 + t * t)
    }
    return tail < 1.001 * level * total
  }

  /** Adds a column to the model of later tests. */
  accept(column: Float64Array): void {
    this.fitted++
    for (const kind of this.kinds) {
      const norm = orthogonal(kind, column, this.rest)
      const unit = this.rest.map((x) => x / norm)
      const along = dot(unit, kind.residual)
      kind.residual = kind.residual.map((x, i) => x - along * unit[i])
      kind.squares = dot(kind.residual, kind.residual)
      kind.base.push(unit)
      kind.halfLogColumns += Math.log(norm)
    }
  }
}

/** Lower triangle of the covariance of scatter that is correlated from block to block. */
function scatterOf(timeS: Float64Array, step: number, correlation: number): Float64Array {
  const count = timeS.length
  const out = new Float64Array(count * count)
  for (let i = 0; i < count; i++) {
    for (let j = 0; j < i; j++)
      out[i * count + j] = correlation === 0 ? 0 : correlation ** ((timeS[i] - timeS[j]) / step)
    out[i * count + i] = 1
  }
  return out
}

/**
 * The whitened residual of a column after projection on the fitted ones.
 *
 * @param rest receives it
 * @returns its length
 */
function orthogonal(kind: NoiseKind, column: Float64Array, rest: Float64Array): number {
  solveLower(kind.factor, column.length, column, rest, leadingZeros(column))
  // Twice: the rounding error of one pass matters for a short column.
  for (let pass = 0; pass < 2; pass++)
    for (const unit of kind.base) {
      const along = dot(unit, rest)
      for (let i = 0; i < rest.length; i++) rest[i] -= along * unit[i]
    }
  return Math.sqrt(dot(rest, rest))
}

/** A column of a change is 0 before it. */
function leadingZeros(column: Float64Array): number {
  let first = 0
  while (first < column.length && column[first] === 0) first++
  return first
}

function dot(a: Float64Array, b: Float64Array, from = 0): number {
  let sum = 0
  for (let i = from; i < a.length; i++) sum += a[i] * b[i]
  return sum
}
