import { ClockWatch } from '#ingest/recording/clock-watch.ts'
import type { Arrival } from '#ingest/sources/port.ts'

/** Digits of epoch nanoseconds from 2001 to 2286. */
const epochDigits = 19

/** Timestamps lines without a time and gives the current time on the clock of the points. */
export class IntakeClock {
  readonly #watch = new ClockWatch()
  #newestOwn: { readonly timeNs: string; readonly arrival: Arrival } | null = null

  /**
   * The logger's own time when it sends one, else the arrival time: strictly increasing and on the monotonic clock,
   * so that setting this computer's clock does not distort a hold.
   */
  stamp(ownNs: string | null, arrival: Arrival): string {
    if (ownNs !== null) {
      this.#newestOwn = { timeNs: ownNs, arrival }
      return ownNs
    }
    return String(this.#watch.at(arrival).timeNs)
  }

  /** Once a logger has sent present-day nanoseconds, a shorter time has lost digits in transit. */
  lostDigits(ownNs: string): boolean {
    return ownNs.length < epochDigits && this.#newestOwn?.timeNs.length === epochDigits
  }

  /** Time on the clock of the logger's points: its own clock if it sends one, else this computer's. */
  at(arrival: Arrival): bigint {
    const newest = this.#newestOwn
    if (newest === null) return this.#watch.at(arrival).timeNs
    return BigInt(newest.timeNs) + (arrival.monotonicNs - newest.arrival.monotonicNs)
  }
}
