import { constants, stiffnessOf } from './gas-model.ts'
import type { GasRows } from './gas-rows.ts'

/** Columns of one stretch and flow law. */
export interface GasColumns {
  readonly stretchPerPa: number
  readonly flowExponent: number
  /** d ln p / d ln n in each row: 1 for a rigid volume, less for one that breathes. */
  readonly stiffness: Float64Array
  readonly leak: Float64Array
  /** White variance of the response. */
  readonly white: Float64Array
  readonly response: Float64Array
}

export function gasColumns(
  rows: GasRows,
  weather: Float64Array,
  stretchPerPa: number,
  flowExponent: number,
): GasColumns {
  const { absolutePa, gaugePa, variance, weatherVariance, absolute, testPa } = rows
  const stiffness = absolutePa.map((p, i) => stiffnessOf(stretchPerPa, p, gaugePa[i]))
  const response = new Float64Array(absolutePa.length)
  let breathed = 0
  for (let i = 0; i < response.length; i++) {
    if (i > 0) breathed += 0.5 * (stiffness[i] + stiffness[i - 1]) * (weather[i] - weather[i - 1])
    response[i] = Math.log(absolutePa[i] / testPa) - weather[i] + breathed
  }
  return {
    stretchPerPa,
    flowExponent,
    stiffness,
    leak: leakColumn(rows, stretchPerPa, flowExponent, stiffness),
    // A volume of stiffness s feels the share 1 − s of the atmosphere's changes, taken off with the barometer's noise.
    white: variance.map(
      (v, i) =>
        constants.whiteSpare *
        (v + weatherVariance[i] * (absolute ? (1 - stiffness[i]) ** 2 : stiffness[i] ** 2 - 1)),
    ),
    response,
  }
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
  const { absolutePa, gaugePa, fromS, toS, testPa, testGaugePa } = rows
  const full = testPa ** 2 - (testPa - testGaugePa) ** 2
  const filled = (testPa * (1 + stretchPerPa * testGaugePa)) / stiffnessOf(stretchPerPa, testPa, testGaugePa)
  const out = new Float64Array(absolutePa.length)
  let before = 0
  let atHold = 0
  for (let i = 0; i < out.length; i++) {
    const p = absolutePa[i]
    const driven = (p ** 2 - (p - gaugePa[i]) ** 2) / full
    const flow = flowExponent === 1 ? driven : Math.sign(driven) * Math.abs(driven) ** flowExponent
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

/** ∫ dp_b/p from the first row: change of the atmosphere over the absolute pressure; zeros without a barometer. */
export function weatherColumn({ absolutePa, gaugePa }: GasRows): Float64Array {
  const out = new Float64Array(absolutePa.length)
  for (let i = 1; i < out.length; i++) {
    const change = absolutePa[i] - gaugePa[i] - (absolutePa[i - 1] - gaugePa[i - 1])
    out[i] = out[i - 1] + (2 * change) / (absolutePa[i] + absolutePa[i - 1])
  }
  return out
}
