import { SimulatedBench, type SimulatedBenchOptions } from '#ingest/simulator/simulated-bench.ts'
import { arrivalNow } from './arrival-now.ts'
import type { Port, PortListener } from './port.ts'

export interface DemoBenchOptions extends SimulatedBenchOptions {
  /** Bench seconds per real second. */
  readonly speed?: number
}

const tickMs = 50

/**
 * A simulated bench that sends line protocol through the same interface as a serial port. Commands control it. The
 * lines carry the bench's own time, which starts at the wall clock at `open` unless the options set it, and may run
 * faster than real time.
 */
export class DemoBench extends SimulatedBench implements Port {
  readonly name = 'demo bench'
  readonly origin = { kind: 'demo', name: null, sha256: null } as const
  readonly speed: number
  #startsNow: boolean
  #listener: PortListener | null = null
  #timer: ReturnType<typeof setInterval> | null = null
  #lastTickMs = 0

  constructor(options: DemoBenchOptions) {
    super(options)
    this.speed = options.speed ?? 10
    this.#startsNow = options.startNs === undefined
  }

  async open(listener: PortListener): Promise<void> {
    this.#listener = listener
    const arrival = arrivalNow()
    if (this.#startsNow) this.startNs = arrival.wallNs
    this.#startsNow = false
    listener.opened(arrival)
    this.#lastTickMs = performance.now()
    this.#timer = setInterval(() => this.#tick(), tickMs)
  }

  async close(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer)
    this.#timer = null
    const listener = this.#listener
    this.#listener = null
    listener?.closed(arrivalNow())
  }

  /** Advances bench time at once, in addition to the clock, and sends the logger's lines of that time. */
  advance(seconds: number): void {
    const lines = this.advanceLines(seconds)
    if (lines.length === 0) return
    this.#listener?.bytes(new TextEncoder().encode(`${lines.join('\n')}\n`), arrivalNow())
  }

  #tick(): void {
    const nowMs = performance.now()
    // After the computer slept, the bench does not catch up.
    const passedS = Math.min((nowMs - this.#lastTickMs) / 1000, 2)
    this.#lastTickMs = nowMs
    this.advance(passedS * this.speed)
  }
}
