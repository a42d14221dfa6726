import { bench } from './bench.ts'
import { readings } from './traces.ts'

/** A channel that gave no reading for so long gives none, [s] of our own: one that comes over HTTP waits ten. */
const QUIET_AFTER_S = 15

/** For how long a channel that once spoke has given no reading, [s] of bench time; null while it speaks. */
export function quietFor(channel: string): number | null {
  const state = bench.value
  const last = readings.value[channel] ?? state?.newest[channel]
  if (!state || !last || state.nowS === null) return null
  const quietS = state.nowS - last.timeS
  return quietS > QUIET_AFTER_S * state.speed ? quietS : null
}
