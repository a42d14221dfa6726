/**
 * The time of the bench: that of the newest sample, carried on by the monotonic clock until the next one.
 *
 * Marks are written in this time, so that they stand right among the samples even where the logger's clock differs
 * from ours or the bench runs faster than real time.
 */
export class BenchClock {
  readonly #speed: number
  readonly #monotonicNs: () => bigint
  #newestNs: bigint | null = null
  #seenAtNs = 0n

  constructor(speed: number, monotonicNs: () => bigint = () => process.hrtime.bigint()) {
    this.#speed = speed
    this.#monotonicNs = monotonicNs
  }

  saw(sampleNs: bigint): void {
    if (this.#newestNs !== null && sampleNs < this.#newestNs) return
    this.#newestNs = sampleNs
    this.#seenAtNs = this.#monotonicNs()
  }

  /** Time of the newest sample; null before the first. */
  get newestNs(): bigint | null {
    return this.#newestNs
  }

  /** Never earlier than the newest sample; null before the first. */
  nowNs(): bigint | null {
    if (this.#newestNs === null) return null
    const elapsedNs = Number(this.#monotonicNs() - this.#seenAtNs) * this.#speed
    return this.#newestNs + BigInt(Math.max(0, Math.round(elapsedNs)))
  }

  /** Forgets the time base: after a clock jump the next sample sets it anew. */
  restart(): void {
    this.#newestNs = null
  }
}
