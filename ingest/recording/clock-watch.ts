import type { Arrival } from '#ingest/sources/port.ts'

/** The two clocks part by more than this: one was set, or the computer slept, [ns]. */
const jumpNs = 500_000_000n

/**
 * Watches the wall clock against the monotonic one, and gives arrival times that rise strictly.
 *
 * Times follow the monotonic clock from where the wall clock stood at the start, so that setting the clock does not
 * bend a hold. When the wall clock is found ahead (set forward, or a sleep that the monotonic clock did not see) the
 * times follow it; when it is found behind they go on without it. Either way the jump is told.
 */
export class ClockWatch {
  #offsetNs: bigint | null = null
  #newestOffsetNs = 0n
  #newestNs = 0n

  /** Time to write, [ns], and by how much the wall clock jumped since the arrival before, [ns]; 0 for none. */
  at({ wallNs, monotonicNs }: Arrival): { timeNs: bigint; jumpedNs: bigint } {
    const offsetNs = wallNs - monotonicNs
    let jumpedNs = 0n
    if (this.#offsetNs === null) {
      this.#offsetNs = offsetNs
      this.#newestOffsetNs = offsetNs
    }
    const movedNs = offsetNs - this.#newestOffsetNs
    this.#newestOffsetNs = offsetNs
    if (movedNs > jumpNs || movedNs < -jumpNs) {
      jumpedNs = movedNs
      if (offsetNs > this.#offsetNs) this.#offsetNs = offsetNs
    }
    const timeNs = monotonicNs + this.#offsetNs
    this.#newestNs = timeNs > this.#newestNs ? timeNs : this.#newestNs + 1n
    return { timeNs: this.#newestNs, jumpedNs }
  }

  /** A time was written that did not come from here: later ones come after it. */
  passed(timeNs: bigint): void {
    if (timeNs > this.#newestNs) this.#newestNs = timeNs
  }
}
