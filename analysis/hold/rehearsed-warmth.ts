/** Where every rehearsal begins, [K]. */
export const roomK = 293.15

/** A quiet room still wobbles, by this amplitude, [K], and in this time, [s]. Own figures. */
const wobble = { amplitudeK: 0.035, periodS: 900 } as const

/** Wall and contents in a room that drifts and wobbles, all as warm as the room when the readings begin. */
export function rehearsedWarmth(
  timeS: Float64Array,
  driftKPerH: number,
  wallTauS: number,
  insideTauS: number,
): { readonly wallK: Float64Array; readonly insideK: Float64Array } {
  const room = timeS.map(
    (t) => roomK + (driftKPerH / 3600) * t + wobble.amplitudeK * Math.sin((2 * Math.PI * t) / wobble.periodS),
  )
  const wallK = lagged(timeS, room, wallTauS)
  return { wallK, insideK: lagged(timeS, wallK, insideTauS) }
}

/** Share of the heat of a pump-up on a straight ramp that is left so long after it began. */
export function heatLeft(sinceS: number, rampS: number, tauS: number): number {
  if (sinceS <= 0) return 0
  const pumping = Math.min(sinceS, rampS)
  return (tauS / rampS) * -Math.expm1(-pumping / tauS) * Math.exp(-(sinceS - pumping) / tauS)
}

/** A first-order lag, exact for straight lines between the readings. */
export function lagged(timeS: Float64Array, values: Float64Array, tauS: number): Float64Array {
  const out = Float64Array.from(values)
  for (let i = 1; i < out.length; i++) {
    const stepS = timeS[i] - timeS[i - 1]
    const behind = ((values[i] - values[i - 1]) * tauS) / stepS
    out[i] = values[i] - behind + (out[i - 1] - values[i - 1] + behind) * Math.exp(-stepS / tauS)
  }
  return out
}
