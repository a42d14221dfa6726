import type { Arrival } from '#ingest/sources/port.ts'

/** The clocks differ by more than this: one was set, or the computer slept, [ns]. */
const jumpNs = 500_000_000n

/**
 * Compares the wall clock with the monotonic one, and gives strictly increasing arrival times.
 *
 * Times start at the wall clock and follow the monotonic clock, so that setting the clock does not distort a hold.
 * When the wall clock is ahead (set forward, or a sleep that the monotonic clock did not count) the times jump to
 * it; when it is behind they continue without it. Either way the jump is reported.
 */
export class ClockWatch {
  #offsetNs: bigint | null = null
  #newestOffsetNs = 0n
  #newestNs = 0n
  #arrival: Arrival | null = null

  /** Time to write, [ns], and the jump of the wall clock since the previous arrival, [ns]; 0 for none. */
  at(arrival: Arrival): { timeNs: bigint; jumpedNs: bigint } {
    // The lines of one chunk share their arrival.
    if (arrival === this.#arrival) return { timeNs: ++this.#newestNs, jumpedNs: 0n }
    this.#arrival = arrival
    const { wallNs, monotonicNs } = arrival
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
}
