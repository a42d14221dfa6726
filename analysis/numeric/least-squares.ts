/** Ordinary least squares: what was estimated and how well. */
export interface LeastSquaresFit {
  readonly coefficients: Float64Array
  /** Covariance of the coefficients by rows: residual variance times (XᵀX)⁻¹. */
  readonly covariance: readonly Float64Array[]
  /** (XᵀX)⁻¹ by rows, for callers that know the noise. */
  readonly unscaledCovariance: readonly Float64Array[]
  /** Standard uncertainties of the coefficients. */
  readonly stdCoefficients: Float64Array
  readonly residuals: Float64Array
  readonly residualSumOfSquares: number
  readonly degreesOfFreedom: number
  /** Residual standard deviation; 0 when no degree of freedom is left. */
  readonly residualStd: number
}

/** A column whose part independent of the columns before it is this small next to itself counts as dependent. */
const DEPENDENT = 4e-15

const REFINEMENTS = 2

interface Reflections {
  /** Householder vectors below and R on and above the diagonal, by columns. */
  readonly factors: readonly Float64Array[]
  readonly scale: Float64Array
  readonly diagonal: Float64Array
}

function reflect(vector: Float64Array, target: Float64Array, from: number): void {
  let product = 0
  for (let i = from; i < target.length; i++) product += vector[i] * target[i]
  const factor = product / vector[from]
  for (let i = from; i < target.length; i++) target[i] -= factor * vector[i]
}

function columnNorm(column: Float64Array, from: number): number {
  let largest = 0
  for (let i = from; i < column.length; i++) largest = Math.max(largest, Math.abs(column[i]))
  if (largest === 0) return 0
  let squares = 0
  for (let i = from; i < column.length; i++) squares += (column[i] / largest) ** 2
  return largest * Math.sqrt(squares)
}

/** Householder QR of columns scaled to unit length; null when a column depends on those before it. */
function factorize(columns: readonly Float64Array[]): Reflections | null {
  const scale = new Float64Array(columns.length)
  const diagonal = new Float64Array(columns.length)
  const factors = columns.map((column, j) => {
    scale[j] = columnNorm(column, 0)
    return column.map((value) => (scale[j] === 0 ? 0 : value / scale[j]))
  })
  for (let j = 0; j < factors.length; j++) {
    const column = factors[j]
    const norm = columnNorm(column, j)
    if (!(norm > DEPENDENT)) return null
    const signed = column[j] >= 0 ? norm : -norm
    for (let i = j; i < column.length; i++) column[i] /= signed
    column[j] += 1
    diagonal[j] = -signed
    for (let k = j + 1; k < factors.length; k++) reflect(column, factors[k], j)
  }
  return { factors, scale, diagonal }
}

function solveTriangle({ factors, diagonal }: Reflections, right: Float64Array): Float64Array {
  const p = factors.length
  const solution = right.slice(0, p)
  for (let j = p - 1; j >= 0; j--) {
    solution[j] /= diagonal[j]
    for (let i = 0; i < j; i++) solution[i] -= factors[j][i] * solution[j]
  }
  return solution
}

function solve(reflections: Reflections, right: Float64Array): Float64Array {
  const rotated = right.slice()
  for (let j = 0; j < reflections.factors.length; j++) reflect(reflections.factors[j], rotated, j)
  return solveTriangle(reflections, rotated).map((value, j) => value / reflections.scale[j])
}

function checkShape(columns: readonly Float64Array[], y: Float64Array): void {
  if (columns.some((column) => column.length !== y.length)) {
    throw new RangeError('least squares needs columns as long as the observations')
  }
  if (columns.length === 0 || y.length < columns.length) {
    throw new RangeError('least squares needs at least as many rows as columns')
  }
}

/**
 * Residuals y − Xb as if computed in twice the precision: products and sums keep their low halves (Dekker, Knuth), so
 * that a refinement step sees what the first solution left over and not its own rounding.
 */
function exactResiduals(
  columns: readonly Float64Array[],
  y: Float64Array,
  coefficients: Float64Array,
): Float64Array {
  const high = y.slice()
  const low = new Float64Array(y.length)
  for (let j = 0; j < columns.length; j++) {
    const column = columns[j]
    const b = coefficients[j]
    const bSplit = 134217729 * b
    const bHigh = bSplit - (bSplit - b)
    const bLow = b - bHigh
    for (let i = 0; i < y.length; i++) {
      const a = -column[i]
      const product = a * b
      const aSplit = 134217729 * a
      const aHigh = aSplit - (aSplit - a)
      const aLow = a - aHigh
      const productLow = aLow * bLow - (product - aHigh * bHigh - aLow * bHigh - aHigh * bLow)
      const total = high[i] + product
      const part = total - high[i]
      low[i] += high[i] - (total - part) + (product - part) + productLow
      high[i] = total
    }
  }
  for (let i = 0; i < y.length; i++) high[i] += low[i]
  return high
}

function inverseGram(reflections: Reflections): Float64Array[] {
  const { factors, scale } = reflections
  const p = factors.length
  const inverse = Array.from({ length: p }, (_, j) => {
    const unit = new Float64Array(p)
    unit[j] = 1
    return solveTriangle(reflections, unit)
  })
  return Array.from({ length: p }, (_, i) =>
    Float64Array.from({ length: p }, (_, k) => {
      let total = 0
      for (let j = Math.max(i, k); j < p; j++) total += inverse[j][i] * inverse[j][k]
      return total / (scale[i] * scale[k])
    }),
  )
}

/**
 * Least squares by Householder QR, the solution refined twice from exactly computed residuals.
 *
 * @param columns regressors, one column each, all as long as `y`
 * @param y observations
 * @returns null when the columns depend on each other to working precision: the data cannot tell them apart
 * @throws RangeError when lengths differ or there are fewer rows than columns
 *
 * Source: [golub-van-loan] 5.3, refinement after [bjorck-1967]
 * Check: [nist-strd] Norris, Pontius, Longley, Wampler1, Filip; [jcgm-100] H.3
 */
export function leastSquares(columns: readonly Float64Array[], y: Float64Array): LeastSquaresFit | null {
  const n = y.length
  const p = columns.length
  checkShape(columns, y)
  const reflections = factorize(columns)
  if (reflections === null) return null

  const coefficients = solve(reflections, y)
  let residuals = exactResiduals(columns, y, coefficients)
  for (let pass = 0; pass < REFINEMENTS; pass++) {
    const correction = solve(reflections, residuals)
    for (let j = 0; j < p; j++) coefficients[j] += correction[j]
    residuals = exactResiduals(columns, y, coefficients)
  }

  let residualSumOfSquares = 0
  for (const residual of residuals) residualSumOfSquares += residual * residual
  const degreesOfFreedom = n - p
  const variance = degreesOfFreedom > 0 ? residualSumOfSquares / degreesOfFreedom : 0
  const unscaledCovariance = inverseGram(reflections)
  const covariance = unscaledCovariance.map((row) => row.map((value) => value * variance))
  return {
    coefficients,
    covariance,
    unscaledCovariance,
    stdCoefficients: Float64Array.from(covariance, (row, j) => Math.sqrt(row[j])),
    residuals,
    residualSumOfSquares,
    degreesOfFreedom,
    residualStd: Math.sqrt(variance),
  }
}
