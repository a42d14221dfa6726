/**
 * The time of the bench: that of the newest sample, carried on by the monotonic clock until the next one.
 *
 * Marks are written in this time, so that they stand right among the samples even where the logger's clock differs
 * from ours. Where the bench runs faster than real time a carried-on clock would run ahead of samples still to come.
 */
export class BenchClock {
  readonly #runsOn: boolean
  readonly #monotonicNs: () => bigint
  #newestNs: bigint | null = null
  #seenAtNs = 0n

  /** @param runsOn false where samples do not come in real time: then only they move the clock */
  constructor(runsOn: boolean, monotonicNs: () => bigint = () => process.hrtime.bigint()) {
    this.#runsOn = runsOn
    this.#monotonicNs = monotonicNs
  }

  update(sampleNs: bigint): void {
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
    return this.#runsOn ? this.#newestNs + (this.#monotonicNs() - this.#seenAtNs) : this.#newestNs
  }

  /** Forgets the time base: after a clock jump the next sample sets it anew. */
  restart(): void {
    this.#newestNs = null
  }
}
