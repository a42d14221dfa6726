import type { GasRows, GasShape } from './gas-columns.ts'
import { stiffnessOf } from './gas-priors.ts'

/** Step by which the slope of the leak's column with its exponent is taken. */
const exponentStep = 0.05

/**
 * Column of a leak of size 1, and how it changes with the exponent of its flow law.
 *
 * @param stiffness d ln p / d ln n in each row
 */
export function leakColumns(
  rows: GasRows,
  { stretchPerPa, flowExponent }: Pick<GasShape, 'stretchPerPa' | 'flowExponent'>,
  stiffness: Float64Array,
): { leak: Float64Array; law: Float64Array } {
  const leak = leakColumn(rows, stretchPerPa, flowExponent, stiffness)
  const steeper = leakColumn(rows, stretchPerPa, flowExponent + exponentStep, stiffness)
  return { leak, law: steeper.map((value, i) => (value - leak[i]) / exponentStep) }
}

/**
 * Fall of ln p since the hold began in units of one stated hold time's drop at the stated pressure, negative:
 * −∫ ((p² − p_b²)/(p_t² − p_b²))^m·(n_t·s)/(n·s_t) dt / hold time, with n ∝ p·V.
 * *Source* docs/method.md section 2: m = 1 laminar, ½ turbulent.
 */
function leakColumn(
  rows: GasRows,
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
    const flow = Math.sign(driven) * Math.abs(driven) ** flowExponent
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
