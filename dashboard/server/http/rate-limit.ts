/** A bucket of tries for each key that refills evenly; keys that are full again are forgotten. */
export class RateLimit {
  readonly #tries: number
  readonly #perMs: number
  readonly #nowMs: () => number
  readonly #buckets = new Map<string, { left: number; atMs: number }>()

  /** @param tries how many at once; @param windowMs time in which as many come back, [ms] */
  constructor(tries: number, windowMs: number, nowMs: () => number = () => performance.now()) {
    this.#tries = tries
    this.#perMs = tries / windowMs
    this.#nowMs = nowMs
  }

  /** Takes one try; false when none is left. */
  take(key: string): boolean {
    const nowMs = this.#nowMs()
    const bucket = this.#buckets.get(key) ?? { left: this.#tries, atMs: nowMs }
    bucket.left = Math.min(this.#tries, bucket.left + (nowMs - bucket.atMs) * this.#perMs)
    bucket.atMs = nowMs
    const allowed = bucket.left >= 1
    if (allowed) bucket.left -= 1
    this.#buckets.set(key, bucket)
    if (this.#buckets.size > 1000) this.#forgetFull(nowMs)
    return allowed
  }

  #forgetFull(nowMs: number): void {
    for (const [key, { left, atMs }] of this.#buckets) {
      if (left + (nowMs - atMs) * this.#perMs >= this.#tries) this.#buckets.delete(key)
    }
    // Still full of strangers: forgetting them all gives each one burst more, never unbounded memory.
    if (this.#buckets.size > 1000) this.#buckets.clear()
  }
}
