/** Length of one stretch over which the two clocks are compared, of our time, [s]. */
const stretchS = 20
/** So many stretches on end must show it: points that waited and come in a burst spoil one or two. */
const stretchesOnEnd = 6
/** Part by which a logger's clock may run fast: crystals keep to 0.0001, ceramic resonators to 0.005. */
const mostFast = 0.02
/** While it lasts it is told again after this, so that a mark of it falls into every hold, [s]. */
const againAfterS = 30

/**
 * Finds a logger whose clock runs fast: a hold on such a clock is shorter than its seconds say, and a leak looks smaller.
 * One that runs slow makes a leak look larger and cannot be told from a line that falls behind.
 */
export class ClockRate {
  #begin: { pointNs: bigint; monotonicNs: bigint } | null = null
  /** By how much it was fast in each of the last stretches. */
  #fast: number[] = []
  #toldNs: bigint | null = null

  /** How fast the clock runs, [%], when it is to be told at this point; else null. */
  update(pointNs: bigint, monotonicNs: bigint): number | null {
    this.#begin ??= { pointNs, monotonicNs }
    const elapsedNs = monotonicNs - this.#begin.monotonicNs
    if (elapsedNs >= BigInt(stretchS * 1e9)) {
      this.#fast.push(Number(pointNs - this.#begin.pointNs) / Number(elapsedNs) - 1)
      if (this.#fast.length > stretchesOnEnd) this.#fast.shift()
      this.#begin = { pointNs, monotonicNs }
    }
    const percent = this.percent
    if (percent === null) return null
    if (this.#toldNs !== null && Number(monotonicNs - this.#toldNs) / 1e9 < againAfterS) return null
    this.#toldNs = monotonicNs
    return percent
  }

  /** How fast it runs, [%]; null while it does not. */
  get percent(): number | null {
    if (this.#fast.length < stretchesOnEnd || this.#fast.some((fast) => fast <= mostFast)) return null
    // The least of them: a burst makes the others larger.
    return 100 * Math.min(...this.#fast)
  }

  /** The connection was opened anew, or the clock was set: what was seen before tells nothing. */
  restart(): void {
    this.#begin = null
    this.#fast = []
  }
}
