import type { Arrival } from './sources/port.ts'

/** Lines of one chunk arrive together: stamps that would be equal are parted by a nanosecond, up to this much. */
const longestTieNs = 50_000_000n

/** Digits of epoch nanoseconds from 2001 to 2286. */
const epochDigits = 19

/** Stamps the lines that bring no time and tells what time it is on the scale of the points. */
export class IntakeClock {
  #lastStampNs: bigint | null = null
  #newestOwn: { readonly timeNs: string; readonly arrival: Arrival } | null = null

  /** The logger's own time when it sends one, else the time of arrival, later than the stamp before it. */
  stamp(ownNs: string | null, arrival: Arrival): string {
    if (ownNs !== null) {
      this.#newestOwn = { timeNs: ownNs, arrival }
      return ownNs
    }
    const last = this.#lastStampNs
    const tied = last !== null && arrival.wallNs <= last && last - arrival.wallNs < longestTieNs
    const stamp = tied ? last + 1n : arrival.wallNs
    this.#lastStampNs = stamp
    return String(stamp)
  }

  /** Once a logger has sent nanoseconds of our age, a shorter time has lost digits on its way. */
  lostDigits(ownNs: string): boolean {
    return ownNs.length < epochDigits && this.#newestOwn?.timeNs.length === epochDigits
  }

  at(arrival: Arrival): bigint {
    const newest = this.#newestOwn
    if (newest === null) return arrival.wallNs
    return BigInt(newest.timeNs) + (arrival.monotonicNs - newest.arrival.monotonicNs)
  }

  /** Logger's clock minus this computer's, [s]; null while the logger sends no time. */
  get offsetS(): number | null {
    const newest = this.#newestOwn
    return newest === null ? null : Number(BigInt(newest.timeNs) - newest.arrival.wallNs) / 1e9
  }
}
