import type { Arrival } from './port.ts'

/** Wall clock at the start of the process; `Date.now()` has whole milliseconds, `performance` has the rest. */
export function arrivalNow(): Arrival {
  const milliseconds = performance.timeOrigin + performance.now()
  const drifted = Date.now()
  // `performance` does not follow a clock that is set or a computer that slept: the wall clock is Date.now().
  const wallMs = Math.abs(milliseconds - drifted) < 2 ? milliseconds : drifted
  return { wallNs: BigInt(Math.round(wallMs * 1000)) * 1000n, monotonicNs: process.hrtime.bigint() }
}
