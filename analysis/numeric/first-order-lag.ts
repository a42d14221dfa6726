/**
 * First-order lag of a piecewise linear signal, exact; it starts without lag.
 *
 * @param timeS ascending, [s]
 * @param tauS time constant, above 0, [s]
 * *Check* a ramp of slope a finally lags by a·τ.
 */
export function firstOrderLag(timeS: Float64Array, values: Float64Array, tauS: number): Float64Array {
  const out = new Float64Array(values.length)
  out[0] = values[0]
  for (let i = 1; i < out.length; i++) {
    const stepS = timeS[i] - timeS[i - 1]
    const behind = (tauS * (values[i] - values[i - 1])) / stepS
    out[i] = values[i] - behind + (out[i - 1] - values[i - 1] + behind) * Math.exp(-stepS / tauS)
  }
  return out
}
