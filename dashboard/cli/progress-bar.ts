/** What a bar is drawn on: standard error, or whatever stands in for it. */
export interface BarStream {
  readonly isTTY?: boolean
  readonly columns?: number
  write(text: string): unknown
}

/** Short work shows no bar at all, and a bar moves no oftener than the eye, [ms]. */
const shownAfterMs = 500
const betweenMs = 100
const barColumns = 24

/**
 * A bar on standard error while something long runs; nothing where that is no terminal. It takes its line away when
 * done, so that results stand as if it had never been there.
 */
export class ProgressBar {
  readonly #stream: BarStream
  readonly #nowMs: () => number
  readonly #beganMs: number
  #drawnMs = Number.NEGATIVE_INFINITY
  #isDrawn = false

  constructor(stream: BarStream = process.stderr, nowMs: () => number = () => performance.now()) {
    this.#stream = stream
    this.#nowMs = nowMs
    this.#beganMs = nowMs()
  }

  /** @param share of the work that is done, 0 to 1 */
  at(what: string, share: number): void {
    const nowMs = this.#nowMs()
    if (nowMs - this.#beganMs < shownAfterMs || nowMs - this.#drawnMs < betweenMs) return
    const full = Math.round(Math.min(1, Math.max(0, share)) * barColumns)
    const bar = '█'.repeat(full).padEnd(barColumns, '·')
    this.#draw(`${bar} ${String(Math.round(100 * share)).padStart(3)} %  ${what}`)
  }

  /** Work of which nobody knows how much there is: told when it begins, where a bar is there already. */
  next(what: string): void {
    if (this.#isDrawn) this.#draw(`${what} …`)
  }

  end(): void {
    if (this.#isDrawn) this.#stream.write('\r\x1b[2K')
    this.#isDrawn = false
  }

  #draw(line: string): void {
    if (this.#stream.isTTY !== true) return
    this.#drawnMs = this.#nowMs()
    this.#isDrawn = true
    // A line that wraps could not be taken away again.
    this.#stream.write(`\r\x1b[2K${line.slice(0, (this.#stream.columns ?? 80) - 1)}`)
  }
}
