import { bent, type HeldLine, straight } from './full-line.ts'
import type { GasHold, GasRows } from './gas-rows.ts'
import { constants, type HoldConstants } from './hold-constants.ts'
import { type HoldBeliefs, type HoldShape, stiffnessOf } from './hold-model.ts'

/** A pressure equation: the filter's input for one shape of a section. */
export interface HoldColumns {
  /** The dimensionless pressure response, and its white variance. */
  readonly response: Float64Array
  readonly white: Float64Array
  /** Rise of the response per unit relative thermal expansion of the contents, in each row. */
  readonly stiffness: Float64Array
  /** The response to a leak of 1. */
  readonly leak: Float64Array
  /** Share of the leak response that cools the contents, over the stiffness. */
  readonly chill: number
  /** The response to a model error of the wall temperature. */
  readonly swing: number
  /** Log Jacobian of the response's scale in the density of the readings. */
  readonly logJacobian: number
  /** Unobservable uncertainty added to the leak, as a drop. */
  readonly unseenStd: number
  /** Whether a stroke moved the pressure in a row; null without one. */
  readonly stroked: readonly boolean[] | null
}

/** Columns for one shape at a time; the last shape's columns are cached. */
export function holdColumns(
  rows: GasRows,
  { line, unseenStd }: HoldBeliefs,
  c: HoldConstants,
): (shape: HoldShape) => HoldColumns {
  const weather = weatherColumn(rows)
  let [a, b] = [Number.NaN, Number.NaN]
  let columns: HoldColumns
  return (shape) => {
    const { stretchPerPa, flowExponent, yieldPerPa, airShare } = shape
    const [first, second] = line === null ? [stretchPerPa, flowExponent] : [yieldPerPa, airShare]
    if (first !== a || second !== b) {
      columns =
        line === null
          ? gasColumns(rows, weather, stretchPerPa, flowExponent, unseenStd)
          : liquidColumns(rows, line, shape, c)
      a = first
      b = second
    }
    return columns
  }
}

export function gasColumns(
  rows: GasRows,
  weather: Float64Array,
  stretchPerPa: number,
  flowExponent: number,
  unseenStd: number,
): HoldColumns {
  const { absolutePa, gaugePa, variance, weatherVariance, absolute, testPa } = rows
  const stiffness = absolutePa.map((p, i) => stiffnessOf(stretchPerPa, p, gaugePa[i]))
  const response = new Float64Array(absolutePa.length)
  let breathed = 0
  for (let i = 0; i < response.length; i++) {
    if (i > 0) breathed += 0.5 * (stiffness[i] + stiffness[i - 1]) * (weather[i] - weather[i - 1])
    response[i] = Math.log(absolutePa[i] / testPa) - weather[i] + breathed
  }
  return {
    stiffness,
    chill: 0.4 / (1 + 0.4 * (1 - stiffness[response.length >> 1])),
    swing: 1,
    logJacobian: 0,
    unseenStd,
    stroked: null,
    leak: leakColumn(rows, stretchPerPa, flowExponent, stiffness),
    // A volume of stiffness s follows the share 1 − s of atmospheric changes; subtracting it adds barometer noise.
    white: variance.map(
      (v, i) =>
        constants.whiteSpare *
        (v + weatherVariance[i] * (absolute ? (1 - stiffness[i]) ** 2 : stiffness[i] ** 2 - 1)),
    ),
    response,
  }
}

/**
 * The pressure equation of a line full of fuel, in parts of the absolute test pressure P. Volume leaks, and volume grows with
 * temperature; the yield y is the relative volume change per pascal:
 *
 * (d − a·d²/p)/P = level + α·T/(y·P)·G − λ·∫(g/g_test) dt/hold time − creep, with d = p − P and a share a of the yield due to air.
 *
 * *Holds for* a laminar leak and a constant yield. *Source* docs/method.md section 3.
 */
function liquidColumns(
  rows: GasRows,
  line: HeldLine,
  { yieldPerPa, airShare }: HoldShape,
  c: HoldConstants,
): HoldColumns {
  const { absolutePa, gaugePa, variance, testPa, testGaugePa, fromS, toS, holdFromS, statedHoldS } = rows
  const slope = absolutePa.map((p) => 1 - airShare * (1 - (testPa / p) ** 2))
  const coupling = (line.expansionPerK * rows.temperatureK) / (yieldPerPa * testPa)
  const heldS = toS[toS.length - 1] - Math.max(0, holdFromS)
  // Rows around a stroke count as neither before nor after it.
  const stroked = Array.from(fromS, (from, i) =>
    line.strokeS.some((atS) => atS > from - c.strokeClearS && atS < toS[i] + c.strokeClearS),
  )
  return {
    response: absolutePa.map((p) => straight(p - testPa + testGaugePa, line, airShare) / testPa),
    white: variance.map((v, i) =>
      stroked[i] ? c.level[2] ** 2 : c.whiteSpare * v * ((absolutePa[i] * slope[i]) / testPa) ** 2,
    ),
    stiffness: new Float64Array(slope.length).fill(coupling),
    leak: drivenColumn(
      rows,
      gaugePa.map((g) => g / testGaugePa),
    ),
    chill: line.heatPerPa / yieldPerPa / coupling ** 2,
    swing: coupling,
    logJacobian: slope.reduce((sum, each) => sum + Math.log(each), 0),
    unseenStd: Math.hypot(
      (coupling * line.unseenLog * statedHoldS) / heldS,
      line.unseenWeatherStd,
      (c.dissolving * airShare * testGaugePa) / testPa,
    ),
    stroked: stroked.includes(true) ? stroked : null,
  }
}

/** The gauge pressure of a response, [Pa]. */
export function gaugeOf(
  response: number,
  { testPa, meanBarometricPa }: Pick<GasHold, 'testPa' | 'meanBarometricPa'>,
  { yieldPerPa, airShare }: HoldShape,
): number {
  return yieldPerPa > 0
    ? bent(response * testPa, { testPa, testGaugePa: testPa - meanBarometricPa }, airShare)
    : testPa * Math.exp(response) - meanBarometricPa
}

/**
 * Fall of ln p since the hold began in units of one stated hold time's drop at the stated pressure, negative:
 * −∫ ((p² − p_b²)/(p_t² − p_b²))^m·(n_t·s)/(n·s_t) dt / hold time, with n ∝ p·V.
 *
 * @param flowExponent m: 1 laminar, ½ turbulent
 * @param stiffness d ln p / d ln n in each row
 * *Source* docs/method.md section 2.
 */
export function leakColumn(
  rows: Pick<
    GasRows,
    'absolutePa' | 'gaugePa' | 'fromS' | 'toS' | 'testPa' | 'testGaugePa' | 'holdFromS' | 'statedHoldS'
  >,
  stretchPerPa: number,
  flowExponent: number,
  stiffness: Float64Array,
): Float64Array {
  const { absolutePa, gaugePa, testPa, testGaugePa } = rows
  const full = testPa ** 2 - (testPa - testGaugePa) ** 2
  const filled = (testPa * (1 + stretchPerPa * testGaugePa)) / stiffnessOf(stretchPerPa, testPa, testGaugePa)
  const rate = absolutePa.map((p, i) => {
    const driven = (p ** 2 - (p - gaugePa[i]) ** 2) / full
    const flow = flowExponent === 1 ? driven : Math.sign(driven) * Math.abs(driven) ** flowExponent
    return (flow * filled * stiffness[i]) / (p * (1 + stretchPerPa * gaugePa[i]))
  })
  return drivenColumn(rows, rate)
}

/** −∫ rate dt / stated hold time over the middles of the rows, 0 where the hold began. */
function drivenColumn(
  { fromS, toS, holdFromS, statedHoldS }: Pick<GasRows, 'fromS' | 'toS' | 'holdFromS' | 'statedHoldS'>,
  rate: Float64Array,
): Float64Array {
  const out = new Float64Array(rate.length)
  let atHold = 0
  for (let i = 1; i < out.length; i++) {
    const middleS = (fromS[i] + toS[i]) / 2
    const stepS = middleS - (fromS[i - 1] + toS[i - 1]) / 2
    out[i] = out[i - 1] - ((rate[i] + rate[i - 1]) * 0.5 * stepS) / statedHoldS
    if (middleS >= holdFromS && middleS - stepS < holdFromS) {
      atHold = out[i - 1] + ((out[i] - out[i - 1]) * (holdFromS - (middleS - stepS))) / stepS
    }
  }
  return out.map((value) => value - atHold)
}

/** ∫ dp_b/p from the first row: change of the atmosphere over the absolute pressure; zeros without a barometer. */
function weatherColumn({ absolutePa, gaugePa }: GasRows): Float64Array {
  const out = new Float64Array(absolutePa.length)
  for (let i = 1; i < out.length; i++) {
    const change = absolutePa[i] - gaugePa[i] - (absolutePa[i - 1] - gaugePa[i - 1])
    out[i] = out[i - 1] + (2 * change) / (absolutePa[i] + absolutePa[i - 1])
  }
  return out
}
