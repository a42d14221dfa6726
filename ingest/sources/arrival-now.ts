import type { Arrival } from './port.ts'

/** Wall clock at the start of the process; `Date.now()` has whole milliseconds, `performance` the fraction. */
export function arrivalNow(): Arrival {
  const milliseconds = performance.timeOrigin + performance.now()
  const drifted = Date.now()
  // `performance` ignores clock changes and sleep, so the wall clock is Date.now().
  const wallMs = Math.abs(milliseconds - drifted) < 2 ? milliseconds : drifted
  return { wallNs: BigInt(Math.round(wallMs * 1000)) * 1000n, monotonicNs: process.hrtime.bigint() }
}
