import type { Port, PortListener } from '#ingest/sources/port.ts'

/** A port that is fed by hand, on clocks of its own: a day passes as fast as the program takes it. */
export class FedPort implements Port {
  readonly name = 'fed by hand'
  /** Seconds since the start, of both clocks and of the lines. */
  nowS = 0
  /** By how much the wall clock was set since, [s]. */
  wallSetS = 0
  /** The computer sleeps: nothing is read. */
  isAsleep = false
  #sleptS = 0
  readonly #startNs = BigInt(Date.now()) * 1_000_000n
  readonly #startMonotonicNs = process.hrtime.bigint()
  #listener: PortListener | null = null

  /** So long the computer slept, [s]: time that the wall clock sees and the monotonic one does not. */
  get sleptS(): number {
    return this.#sleptS
  }

  /** It wakes up. */
  sleep(seconds: number): void {
    this.#sleptS += seconds
    this.wallSetS += seconds
    this.nowS -= seconds
  }

  async open(listener: PortListener): Promise<void> {
    this.#listener = listener
    listener.opened(this.arrival())
  }

  async close(): Promise<void> {
    this.#listener?.closed(this.arrival())
    this.#listener = null
  }

  arrival() {
    const sinceNs = BigInt(Math.round(this.nowS * 1e9))
    return {
      wallNs: this.#startNs + sinceNs + BigInt(Math.round(this.wallSetS * 1e9)),
      monotonicNs: this.#startMonotonicNs + sinceNs,
    }
  }

  /** Time of a line that is written so many seconds after the start, epoch nanoseconds. */
  timeNs(atS: number): bigint {
    return this.#startNs + BigInt(Math.round(atS * 1e6)) * 1000n
  }

  say(bytes: string | Uint8Array): void {
    this.#listener?.bytes(typeof bytes === 'string' ? Buffer.from(bytes) : bytes, this.arrival())
  }
}
