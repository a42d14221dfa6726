import { stiffnessOf } from './gas-priors.ts'

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
  /** Block edges from the end of pump-up, [s]; row i lies between fromS[i] and toS[i]. */
  readonly fromS: Float64Array
  readonly toS: Float64Array
  readonly absolutePa: Float64Array
  readonly gaugePa: Float64Array
  /** White variance of ln p. */
  readonly variance: Float64Array
  /** ln(T/T₀) of the thermometer, smoothed, and its slope, [1/s]; zeros when there is none. */
  readonly logTemperature: Float64Array
  readonly logTemperaturePerS: Float64Array
  /** Begin of the hold, [s] from the end of pump-up: the leak column is 0 there. */
  readonly holdFromS: number
  /** Stated hold time, [s], and stated test pressure, absolute and gauge, [Pa]. */
  readonly statedHoldS: number
  readonly testPa: number
  readonly testGaugePa: number
}

/** One way the section may behave: what cannot be solved for linearly. */
export interface GasShape {
  /** Whether the thermometer feels the wall, which the gas follows late, or the gas itself, which it follows late. */
  readonly thermometer: 'wall' | 'gas'
  /** Time constant of that, and of the pump-up heat, [s]. */
  readonly lagS: number
  /** Heat that goes the slower the less is left (natural convection: flow as the 5/4 power). */
  readonly convective: boolean
  /** κ of V = V₀(1 + κ·g), [1/Pa]. */
  readonly stretchPerPa: number
}

/** Mean of e^(−t/τ) over each row's block. */
export function decayColumn(rows: Pick<GasRows, 'fromS' | 'toS'>, tauS: number): Float64Array {
  const out = new Float64Array(rows.fromS.length)
  for (let i = 0; i < out.length; i++) {
    const width = rows.toS[i] - rows.fromS[i]
    const start = Math.exp(-rows.fromS[i] / tauS)
    out[i] = width > 1e-6 * tauS ? (start * -Math.expm1(-width / tauS) * tauS) / width : start
  }
  return out
}

/** (1 + t/4τ)^−4 at each row's middle: cooling by natural convection. *Source* Newton's law with flow ∝ ΔT^5/4, solved. */
function convectionColumn(rows: Pick<GasRows, 'fromS' | 'toS'>, tauS: number): Float64Array {
  const out = new Float64Array(rows.fromS.length)
  for (let i = 0; i < out.length; i++) out[i] = (1 + (rows.fromS[i] + rows.toS[i]) / (8 * tauS)) ** -4
  return out
}

/** First-order lag of a column given at the blocks' middles, straight between them; starts without lag. */
export function laggedColumn(
  rows: Pick<GasRows, 'fromS' | 'toS'>,
  column: Float64Array,
  tauS: number,
): Float64Array {
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

/** d ln p / d ln n in each row for a stretch κ: 1 for a rigid volume, less for one that breathes. */
function stiffnessColumn(rows: GasRows, stretchPerPa: number): Float64Array {
  return rows.absolutePa.map((p, i) => stiffnessOf(stretchPerPa, p, rows.gaugePa[i]))
}

/** Σ s·Δf: what a change of ln n or ln T does to ln p as the stiffness s changes on the way. */
function throughStiffness(stiffness: Float64Array, column: Float64Array): Float64Array {
  const out = new Float64Array(column.length)
  out[0] = stiffness[0] * column[0]
  for (let i = 1; i < out.length; i++) {
    out[i] = out[i - 1] + 0.5 * (stiffness[i] + stiffness[i - 1]) * (column[i] - column[i - 1])
  }
  return out
}

/** Regressors of one shape and the response they explain. */
export interface GasColumns {
  readonly regressors: Float64Array[]
  /** ln p over the test pressure, freed of what the atmosphere does to a volume of this stretch. */
  readonly response: Float64Array
  /** What the bend of ln(1 + a·heat) adds to a·heat, for a pump-up heat of amplitude a. */
  heatBend(amplitude: number): Float64Array
}

/**
 * Columns of ln p for one shape: level, pump-up heat, its slow tail, thermometer lead, temperature, barometer, leak,
 * and one creep for each creep time constant.
 *
 * d ln p = s·(d ln T_gas − loss − creep) + (1 − s)·dp_b/p with s = 1/(1 + κp/(1 + κg)), summed along the rows;
 * T_gas is the thermometer's reading through a lag (it feels the wall) or a lead (it feels the gas) plus the pump-up heat.
 * The leak's coefficient is the drop of ln p in one stated hold time at the stated pressure.
 * *Source* method.md section 2, elastic volume.
 */
export function gasColumns(rows: GasRows, shape: GasShape, creepTausS: readonly number[]): GasColumns {
  const n = rows.fromS.length
  const { lagS, stretchPerPa } = shape
  const theta = rows.logTemperature
  const stiffness = stiffnessColumn(rows, stretchPerPa)
  const through = (column: Float64Array): Float64Array => throughStiffness(stiffness, column)
  let temperature: Float64Array
  let lead: Float64Array
  if (shape.thermometer === 'wall') {
    temperature = laggedColumn(rows, theta, lagS)
    lead = theta.map((value, i) => value - temperature[i])
  } else {
    temperature = theta.map((value, i) => value + lagS * rows.logTemperaturePerS[i])
    lead = new Float64Array(n)
  }
  const heat = shape.convective ? convectionColumn(rows, lagS) : decayColumn(rows, lagS)
  const weather = weatherColumn(rows)
  const breathed = throughStiffness(stiffness, weather)
  const response = rows.absolutePa.map((p, i) => Math.log(p / rows.testPa) - (weather[i] - breathed[i]))
  const regressors = [
    new Float64Array(n).fill(1),
    through(heat),
    through(decayColumn(rows, lagS * slowHeatRatio)),
    through(lead),
    through(temperature),
    weather,
    leakColumn(rows, stretchPerPa, stiffness),
    ...creepTausS.map((tauS) => through(decayColumn(rows, tauS).map((decay) => decay - 1))),
  ]
  return {
    regressors,
    response,
    heatBend: (amplitude) => through(heat.map((h) => Math.log1p(amplitude * h) - amplitude * h)),
  }
}

/** ∫ dp_b/p from the first row: change of the atmosphere over the absolute pressure; zeros without a barometer. */
function weatherColumn(rows: GasRows): Float64Array {
  const { absolutePa, gaugePa } = rows
  const out = new Float64Array(absolutePa.length)
  for (let i = 1; i < out.length; i++) {
    const change = absolutePa[i] - gaugePa[i] - (absolutePa[i - 1] - gaugePa[i - 1])
    out[i] = out[i - 1] + (2 * change) / (absolutePa[i] + absolutePa[i - 1])
  }
  return out
}

/**
 * Fall of ln p since the hold began in units of one stated hold time's drop at the stated pressure, negative:
 * −∫ (p² − p_b²)/(p_t² − p_b²)·(n_t·s)/(n·s_t) dt / hold time, with n ∝ p·V.
 * *Source* method.md section 2: laminar flow.
 */
function leakColumn(rows: GasRows, stretchPerPa: number, stiffness: Float64Array): Float64Array {
  const { absolutePa, gaugePa, fromS, toS, testPa, testGaugePa } = rows
  const full = testPa ** 2 - (testPa - testGaugePa) ** 2
  const filled = (testPa * (1 + stretchPerPa * testGaugePa)) / stiffnessOf(stretchPerPa, testPa, testGaugePa)
  const out = new Float64Array(absolutePa.length)
  let before = 0
  let atHold = 0
  for (let i = 0; i < out.length; i++) {
    const p = absolutePa[i]
    const flow = (p ** 2 - (p - gaugePa[i]) ** 2) / full
    const rate = (flow * filled * stiffness[i]) / (p * (1 + stretchPerPa * gaugePa[i]))
    const middleS = (fromS[i] + toS[i]) / 2
    if (i > 0) {
      const stepS = middleS - (fromS[i - 1] + toS[i - 1]) / 2
      out[i] = out[i - 1] - ((rate + before) * 0.5 * stepS) / rows.statedHoldS
      if (middleS >= rows.holdFromS && middleS - stepS < rows.holdFromS) {
        atHold = out[i - 1] + ((out[i] - out[i - 1]) * (rows.holdFromS - (middleS - stepS))) / stepS
      }
    }
    before = rate
  }
  return out.map((value) => value - atHold)
}
