import { firstOrderLag } from '#analysis/numeric/first-order-lag.ts'

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
  const wallK = firstOrderLag(timeS, room, wallTauS)
  return { wallK, insideK: firstOrderLag(timeS, wallK, insideTauS) }
}
