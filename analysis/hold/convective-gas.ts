import type { GasRows } from './gas-columns.ts'

/** Difference to the wall below which convection gives way to conduction, [K]. */
const stillDifferenceK = 0.05

/**
 * ln of the gas temperature over its mean for gas that cools toward its wall by natural convection:
 * dT/dt = −(T − T_w)·max(|T − T_w|, 0.05 K)^¼/τ, τ holding at a difference of 1 K.
 *
 * @param amplitude ln(T/T_w) at the first row's beginning
 * @param cold, drop what a leak of size 1 would take off ln T without any heat from the wall, and its size
 * *Source* flow as the 5/4 power of the difference, laminar natural convection (common practice).
 */
export function convectiveGas(
  rows: GasRows,
  tauS: number,
  amplitude: number,
  cold: Float64Array,
  drop: number,
): Float64Array {
  const theta = rows.logTemperature
  const kelvin = rows.temperatureK
  const out = new Float64Array(theta.length)
  let difference = amplitude
  let beforeS = 0
  let before = theta[0]
  for (let i = 0; i < out.length; i++) {
    const middleS = (rows.fromS[i] + rows.toS[i]) / 2
    const steps = Math.max(1, Math.min(8, Math.ceil((8 * (middleS - beforeS)) / tauS)))
    const stepS = (middleS - beforeS) / steps
    const chill = i > 0 ? drop * (cold[i] - cold[i - 1]) : 0
    const slope = stepS > 0 ? (theta[i] - before - chill) / steps : 0
    for (let k = 0; k < steps; k++) {
      // Half the wall's step before, half after the exact decay at the present rate.
      difference -= slope / 2
      const speed = fourthRoot(Math.max(Math.abs(difference) * kelvin, stillDifferenceK)) / tauS
      const guess = difference * Math.exp((-stepS * speed) / 2)
      const middle = fourthRoot(Math.max(Math.abs(guess) * kelvin, stillDifferenceK)) / tauS
      difference = difference * Math.exp(-stepS * middle) - slope / 2
    }
    out[i] = theta[i] + difference
    beforeS = middleS
    before = theta[i]
  }
  return out
}

/** Two roots are quicker than a power of ¼. */
function fourthRoot(value: number): number {
  return Math.sqrt(Math.sqrt(value))
}
