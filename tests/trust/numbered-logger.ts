import { PseudoTerminal } from '#tests/ingest/sources/pseudo-terminal.ts'

const everyMs = 25

/** A logger on a pseudo-terminal that numbers its lines and remembers when it wrote each. */
export class NumberedLogger {
  readonly line = new PseudoTerminal()
  /** When line n was written, [ms] of this process's monotonic clock. */
  readonly writtenMs: number[] = []
  /** Gauge pressure it reports, [psi]; a little noise is added. */
  pressurePsi = 0
  #timer: NodeJS.Timeout | null = null

  async plug(): Promise<void> {
    await this.line.plug()
    this.#timer ??= setInterval(() => this.#write(), everyMs)
  }

  async remove(): Promise<void> {
    if (this.#timer) clearInterval(this.#timer)
    await this.line.remove()
  }

  /** Number of the last line that was written at or before a moment; −1 before the first. */
  lastAt(momentMs: number): number {
    let low = 0
    let high = this.writtenMs.length
    while (low < high) {
      const middle = (low + high) >> 1
      if (this.writtenMs[middle] <= momentMs) low = middle + 1
      else high = middle
    }
    return low - 1
  }

  #write(): void {
    const number = this.writtenMs.length
    const noise = 0.0005 * Math.sin(number * 12.9898) * Math.cos(number * 78.233)
    const pressure = (this.pressurePsi + noise).toFixed(5)
    this.line.write(`logger n=${number}i,p5=${pressure},t5=20.01,baro=1013.2\n`)
    this.writtenMs.push(performance.now())
  }
}
