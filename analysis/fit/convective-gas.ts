import type { GasRows } from './gas-columns.ts'

/** Difference to the wall below which convection gives way to conduction, [K]. */
const stillDifferenceK = 0.05

/** What sends gas on its way: ln(T/T_w) at the first row's beginning, and the size of a leak. */
export interface GasWay {
  readonly amplitude: number
  readonly drop: number
}

/**
 * ln of the gas temperature over its mean for gas that cools toward its wall by natural convection:
 * dT/dt = −(T − T_w)·max(|T − T_w|, 0.05 K)^¼/τ, τ holding at a difference of 1 K.
 *
 * @param cold what a leak of size 1 would take off ln T without any heat from the wall
 * @param ways are gone abreast: each waits for its own last step alone
 * @param columns take what comes out, one for each way
 * *Source* flow as the 5/4 power of the difference, laminar natural convection (common practice).
 */
export function convectiveGas(
  rows: GasRows,
  tauS: number,
  cold: Float64Array,
  ways: readonly GasWay[],
  columns: readonly Float64Array[],
): void {
  const theta = rows.logTemperature
  const kelvin = rows.temperatureK
  const differences = new Float64Array(ways.length)
  const slopes = new Float64Array(ways.length)
  for (let w = 0; w < ways.length; w++) differences[w] = ways[w].amplitude
  const stillSpeed = speedAt(0, tauS)
  let beforeS = 0
  for (let i = 0; i < theta.length; i++) {
    const middleS = (rows.fromS[i] + rows.toS[i]) / 2
    const steps = Math.max(1, Math.min(8, Math.ceil((8 * (middleS - beforeS)) / tauS)))
    const stepS = (middleS - beforeS) / steps
    const before = Math.max(0, i - 1)
    for (let w = 0; w < ways.length; w++) {
      const chill = ways[w].drop * (cold[i] - cold[before])
      slopes[w] = stepS > 0 ? (theta[i] - theta[before] - chill) / steps : 0
    }
    let keptStill = 0
    for (let k = 0; k < steps; k++) {
      for (let w = 0; w < ways.length; w++) {
        // Half the wall's step before, half after the exact decay at the present rate.
        const difference = differences[w] - slopes[w] / 2
        const apartK = Math.abs(difference) * kelvin
        let kept = keptStill
        if (apartK > stillDifferenceK) {
          const guess = difference * Math.exp((-stepS * speedAt(apartK, tauS)) / 2)
          kept = Math.exp(-stepS * speedAt(Math.abs(guess) * kelvin, tauS))
        } else if (kept === 0) {
          kept = Math.exp(-stepS * stillSpeed)
          keptStill = kept
        }
        differences[w] = difference * kept - slopes[w] / 2
      }
    }
    for (let w = 0; w < ways.length; w++) columns[w][i] = theta[i] + differences[w]
    beforeS = middleS
  }
}

/** Rate at which a difference to the wall decays, [1/s]. Two roots are quicker than a power of ¼. */
function speedAt(apartK: number, tauS: number): number {
  return Math.sqrt(Math.sqrt(Math.max(apartK, stillDifferenceK))) / tauS
}
