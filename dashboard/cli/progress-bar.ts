/** Output of a bar: standard error, or a replacement. */
export interface BarStream {
  readonly isTTY?: boolean
  readonly columns?: number
  write(text: string): unknown
}

/** Delay before a bar appears, and interval between updates, [ms]. */
const shownAfterMs = 500
const betweenMs = 100
const barColumns = 24

/**
 * A progress bar on standard error during long work; nothing where that is no terminal. The bar erases its line
 * when done, so that it leaves no trace among the results.
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

  /** @param share completed fraction of the work, 0 to 1 */
  at(what: string, share: number): void {
    const nowMs = this.#nowMs()
    if (nowMs - this.#beganMs < shownAfterMs || nowMs - this.#drawnMs < betweenMs) return
    const full = Math.round(Math.min(1, Math.max(0, share)) * barColumns)
    const bar = '█'.repeat(full).padEnd(barColumns, '·')
    this.#draw(`${bar} ${String(Math.round(100 * share)).padStart(3)} %  ${what}`)
  }

  /** Work of unknown size: announced when it begins, if a bar is shown. */
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
    // A wrapped line could not be erased.
    this.#stream.write(`\r\x1b[2K${line.slice(0, (this.#stream.columns ?? 80) - 1)}`)
  }
}
