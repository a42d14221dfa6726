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

/** One noise model: how it whitens a column, and the columns fitted so far, whitened, as an orthonormal basis. */
interface NoiseKind extends Whitening {
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
  /** For the bound of a search, by a filter. */
  private readonly quick: readonly NoiseKind[]
  /** For the figures of a result: only a search that finds something needs them. */
  private exact: readonly NoiseKind[] | null = null
  private readonly fitted: Float64Array[] = []
  /** Buffer for the residual of a tested column. */
  private readonly rest: Float64Array

  constructor(
    private readonly timeS: Float64Array,
    private readonly value: Float64Array,
  ) {
    const count = timeS.length
    this.rest = new Float64Array(count)
    this.quick = this.kindsOf(byFilter)
    const middle = (timeS[0] + timeS[count - 1]) / 2
    const half = (timeS[count - 1] - timeS[0]) / 2
    for (const power of [0, 1, 2]) this.accept(timeS.map((t) => ((t - middle) / half) ** power))
  }

  /** Null where the column is collinear with the fitted ones. */
  test(column: Float64Array): ColumnFit | null {
    const degrees = this.timeS.length - this.fitted.length - 1
    const { rest } = this
    const fits = this.exactKinds().flatMap((kind) => {
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
    const degrees = this.timeS.length - this.fitted.length - 1
    const { rest } = this
    const first = leadingZeros(column)
    let top = Number.NEGATIVE_INFINITY
    let total = 0
    let tail = 0
    for (const kind of this.quick) {
      kind.whiten(column, rest, first)
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
    this.fitted.push(column)
    for (const kind of [...this.quick, ...(this.exact ?? [])]) accepted(kind, column, this.rest)
  }

  private exactKinds(): readonly NoiseKind[] {
    if (this.exact !== null) return this.exact
    this.exact = this.kindsOf(byCholesky)
    for (const kind of this.exact) for (const column of this.fitted) accepted(kind, column, this.rest)
    return this.exact
  }

  private kindsOf(
    whitened: (timeS: Float64Array, step: number, walk: number, correlation: number) => Whitening | null,
  ): NoiseKind[] {
    const { timeS, value } = this
    const step = (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1)
    return walks.flatMap((walk) =>
      correlations.flatMap((correlation): NoiseKind[] => {
        const whitening = whitened(timeS, step, walk, correlation)
        if (whitening === null) return []
        const residual = new Float64Array(value.length)
        whitening.whiten(value, residual, 0)
        return [{ ...whitening, base: [], halfLogColumns: 0, residual, squares: dot(residual, residual) }]
      }),
    )
  }
}

function accepted(kind: NoiseKind, column: Float64Array, rest: Float64Array): void {
  const norm = orthogonal(kind, column, rest)
  const unit = rest.map((x) => x / norm)
  const along = dot(unit, kind.residual)
  kind.residual = kind.residual.map((x, i) => x - along * unit[i])
  kind.squares = dot(kind.residual, kind.residual)
  kind.base.push(unit)
  kind.halfLogColumns += Math.log(norm)
}

/** A linear map of columns after which the noise is independent, of variance 1. */
interface Whitening {
  readonly halfLogDeterminant: number
  /** @param from first row where the column is not zero @param out receives the whitened column */
  whiten(column: Float64Array, out: Float64Array, from: number): void
}

/** By the covariance matrix of the blocks. Null when it is not positive definite. */
function byCholesky(timeS: Float64Array, step: number, walk: number, correlation: number): Whitening | null {
  const count = timeS.length
  const factor = new Float64Array(count * count)
  for (let i = 0; i < count; i++)
    for (let j = 0; j <= i; j++) {
      const scatter = i === j ? 1 : correlation === 0 ? 0 : correlation ** ((timeS[i] - timeS[j]) / step)
      factor[i * count + j] = scatter + (walk * (timeS[j] - timeS[0])) / step
    }
  if (!factorLower(factor, count)) return null
  return {
    halfLogDeterminant: 0.5 * logDeterminant(factor, count),
    whiten: (column, out, from) => solveLower(factor, count, column, out, from),
  }
}

/**
 * The same by a Kalman filter whose states are scatter and walk: its innovations over their deviations, up to rounding, in a
 * time that grows with the blocks and not with their square. *Source*: Anderson & Moore, Optimal Filtering (from memory).
 */
function byFilter(timeS: Float64Array, step: number, walk: number, correlation: number): Whitening | null {
  const count = timeS.length
  const kept = new Float64Array(count)
  const deviation = new Float64Array(count)
  const ofScatter = new Float64Array(count)
  const ofWalk = new Float64Array(count)
  let halfLogDeterminant = 0
  let [scatter, both, walked] = [1, 0, 0]
  for (let i = 0; i < count; i++) {
    if (i > 0) {
      const steps = (timeS[i] - timeS[i - 1]) / step
      kept[i] = correlation === 0 ? 0 : correlation ** steps
      scatter = kept[i] ** 2 * scatter + 1 - kept[i] ** 2
      both *= kept[i]
      walked += walk * steps
    }
    const variance = scatter + 2 * both + walked
    if (!(variance > 0)) return null
    deviation[i] = Math.sqrt(variance)
    halfLogDeterminant += Math.log(deviation[i])
    ofScatter[i] = (scatter + both) / variance
    ofWalk[i] = (both + walked) / variance
    // Readings have no error of their own: what is left of one state is that of the other, with the other sign.
    scatter -= ofScatter[i] ** 2 * variance
    walked = scatter
    both = -scatter
  }
  return {
    halfLogDeterminant,
    whiten(column, out, from) {
      out.fill(0, 0, from)
      let [scatterNow, walkNow] = [0, 0]
      for (let i = from; i < count; i++) {
        scatterNow *= kept[i]
        const innovation = column[i] - scatterNow - walkNow
        out[i] = innovation / deviation[i]
        scatterNow += ofScatter[i] * innovation
        walkNow += ofWalk[i] * innovation
      }
    },
  }
}

/**
 * The whitened residual of a column after projection on the fitted ones.
 *
 * @param rest receives it
 * @returns its length
 */
function orthogonal(kind: NoiseKind, column: Float64Array, rest: Float64Array): number {
  kind.whiten(column, rest, leadingZeros(column))
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
