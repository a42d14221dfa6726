import type { Arrival } from '#ingest/sources/port.ts'

export const start = 1_767_225_600_000_000_000n
export const second = 1_000_000_000n

/** Two clocks that a test sets; both are stopped in between. */
export function clocks() {
  const now = { wallNs: start, monotonicNs: 5_000n }
  return {
    clock: (): Arrival => ({ ...now }),
    pass(ns: bigint) {
      now.wallNs += ns
      now.monotonicNs += ns
    },
    jump(ns: bigint) {
      now.wallNs += ns
    },
  }
}
