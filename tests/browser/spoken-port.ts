import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Port, PortListener } from '#ingest/sources/port.ts'

/** A port whose logger says what a test makes it say, ten times a second, at a baud rate that may be the wrong one. */
export class SpokenPort implements Port {
  readonly name = '/dev/bench'
  readonly joinsMidLine = true
  /** What the logger says now; null while it is silent. */
  line: (() => string) | null = null
  /** The rate at which its bytes make sense. */
  trueBaudRate = 115_200
  baudRate = 115_200
  #listener: PortListener | null = null
  #timer: NodeJS.Timeout | undefined

  async open(listener: PortListener): Promise<void> {
    this.#listener = listener
    listener.opened(arrivalNow())
    this.#timer = setInterval(() => this.#say(), 100)
  }

  async close(): Promise<void> {
    clearInterval(this.#timer)
    this.#listener?.closed(arrivalNow())
    this.#listener = null
  }

  setBaudRate(baudRate: number): void {
    this.baudRate = baudRate
    this.replug()
  }

  /** The connection ends and begins anew: what stood in the line buffer is gone. */
  replug(): void {
    this.#listener?.closed(arrivalNow())
    this.#listener?.opened(arrivalNow())
  }

  #say(): void {
    if (this.line === null || this.#listener === null) return
    const bytes = Buffer.from(`${this.line()}\n`)
    // Sampled at another rate, bits of one byte fall into another: no text, and rarely a line end.
    if (this.baudRate !== this.trueBaudRate) this.#listener.heard?.(bytes.map((byte) => byte | 0x80))
    else {
      this.#listener.heard?.(bytes)
      this.#listener.bytes(bytes, arrivalNow())
    }
  }
}
