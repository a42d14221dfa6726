/** A channel that gave no reading for so long is quiet, [s] of our own time. */
const quietAfterS = 3
/** Or for so many of its usual pauses: a barometer that is read once in 10 s is not quiet in between. */
const quietAfterPauses = 2.5
/** Readings that come closer than this belong to one batch, [s]. */
const batchS = 0.05

/** When a channel's readings came, by the monotonic clock: how long it has been quiet. */
export class Arrivals {
  readonly #nowMs: () => number
  #lastMs: number | null = null
  #pausesS: number[] = []

  constructor(nowMs: () => number = () => performance.now()) {
    this.#nowMs = nowMs
  }

  came(): void {
    const nowMs = this.#nowMs()
    const pauseS = this.#lastMs === null ? 0 : (nowMs - this.#lastMs) / 1000
    this.#lastMs = nowMs
    // Of three pauses the middle one: one long silence does not become its usual pause.
    if (pauseS > batchS) this.#pausesS = [...this.#pausesS.slice(-2), pauseS]
  }

  /** How long nothing came, [s]; null while readings come as usual, or none has come. */
  get quietS(): number | null {
    if (this.#lastMs === null) return null
    const quietS = (this.#nowMs() - this.#lastMs) / 1000
    const usualS = this.#pausesS.length < 3 ? 0 : [...this.#pausesS].sort((a, b) => a - b)[1]
    return quietS > Math.max(quietAfterS, quietAfterPauses * usualS) ? quietS : null
  }
}
