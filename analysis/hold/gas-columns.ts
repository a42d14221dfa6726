/** The regressors' places in a row of the gas model; what is asked for stands last. */
export const place = {
  level: 0,
  heat: 1,
  slowHeat: 2,
  lead: 3,
  temperature: 4,
  barometer: 5,
  leak: 6,
  creep: 7,
} as const

/** Columns before the creep columns. */
export const baseColumns = 7

/** Data of one section as the fit takes it: rows are time blocks. */
export interface GasRows {
  /** Block edges from the end of pump-up, [s]; row i lies between edgeFrom[i] and edgeTo[i]. */
  readonly fromS: Float64Array
  readonly toS: Float64Array
  /** ln of the absolute pressure. */
  readonly logPressure: Float64Array
  /** White variance of logPressure. */
  readonly variance: Float64Array
  /** ln(T/T₀) of the thermometer, smoothed; zeros when there is none. */
  readonly logTemperature: Float64Array
  /** Barometer change over the absolute pressure; zeros when there is none. */
  readonly barometer: Float64Array
  /** Leak so far: 1 is the leak of one stated hold time at the stated test pressure. */
  readonly leak: Float64Array
}

/** Mean of e^(−t/τ) over each row's block. */
export function decayColumn(rows: GasRows, tauS: number): Float64Array {
  const out = new Float64Array(rows.fromS.length)
  for (let i = 0; i < out.length; i++) {
    const width = rows.toS[i] - rows.fromS[i]
    const start = Math.exp(-rows.fromS[i] / tauS)
    out[i] = width > 1e-6 * tauS ? (start * -Math.expm1(-width / tauS) * tauS) / width : start
  }
  return out
}

/** First-order lag of a column given at the blocks' middles, straight between them; starts without lag. */
export function laggedColumn(rows: GasRows, column: Float64Array, tauS: number): Float64Array {
  const out = new Float64Array(column.length)
  out[0] = column[0]
  for (let i = 1; i < column.length; i++) {
    const step = (rows.fromS[i] + rows.toS[i] - rows.fromS[i - 1] - rows.toS[i - 1]) / 2
    const slope = (column[i] - column[i - 1]) / step
    out[i] = column[i] - tauS * slope + (out[i - 1] - column[i - 1] + tauS * slope) * Math.exp(-step / tauS)
  }
  return out
}

/** Ratio of the slow part of the pump-up heat's time constant to the fast part's. */
const slowHeatRatio = 3.5

/**
 * Regressors of ln p for one gas-to-wall time constant:
 * level, pump-up heat, its slow tail, thermometer lead, temperature, barometer, leak, and one creep a time constant.
 *
 * ln p = level + A·e^(−t/τ) + A₂·e^(−t/3.5τ) + δ·(θ − lag θ) + β·lag θ + (1 − s)·b − λ·leak − C·(1 − e^(−t/τ_c))
 */
export function gasColumns(rows: GasRows, tauS: number, creepTausS: readonly number[]): Float64Array[] {
  const n = rows.fromS.length
  const lagged = laggedColumn(rows, rows.logTemperature, tauS)
  const lead = new Float64Array(n)
  const leak = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    lead[i] = rows.logTemperature[i] - lagged[i]
    leak[i] = -rows.leak[i]
  }
  const creeps = creepTausS.map((creepTauS) => decayColumn(rows, creepTauS).map((decay) => decay - 1))
  return [
    new Float64Array(n).fill(1),
    decayColumn(rows, tauS),
    decayColumn(rows, tauS * slowHeatRatio),
    lead,
    lagged,
    rows.barometer,
    leak,
    ...creeps,
  ]
}
