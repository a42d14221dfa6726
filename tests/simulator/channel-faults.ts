import type { Disturbance } from '#ingest/simulator/bench-logger.ts'

/** A fault of one channel from `fromS` until `toS` (to the end when absent); bench time, [s]. */
export interface ChannelFault {
  readonly channel: string
  readonly kind: /** Frozen value. */
    | 'stuck'
    /** Unplugged: the input falls to the low end of its span. */
    | 'unplugged'
    /** The gauge is shut off from the section and reads the trapped pressure. */
    | 'shut-off'
  readonly fromS: number
  readonly toS?: number
}

/** The faults as a disturbance of the simulated bench. @param connected channels of the logger; absent: all */
export function channelFaults(faults: readonly ChannelFault[], connected?: readonly string[]): Disturbance {
  const last = new Map<string, number>()
  const trapped = new Map<string, number>()
  return ({ id, rangeSi }, timeS, trueSi, read) => {
    if (connected && !connected.includes(id)) return null
    const fault = faults.find(
      ({ channel, fromS, toS = Number.POSITIVE_INFINITY }) => channel === id && timeS >= fromS && timeS < toS,
    )
    const kept = last.get(id)
    if (fault?.kind === 'stuck' && kept !== undefined) return kept
    if (fault?.kind === 'unplugged') return rangeSi?.[0] ?? 0
    if (fault?.kind !== 'shut-off') trapped.delete(id)
    else if (!trapped.has(id)) trapped.set(id, trueSi)
    const reading = read(trapped.get(id) ?? trueSi)
    last.set(id, reading)
    return reading
  }
}
