import { randomBytes } from 'node:crypto'

export interface LiveEvent {
  readonly id: string
  readonly name: 'samples' | 'state' | 'beat'
  /** JSON text without line breaks. */
  readonly data: string
}

/**
 * Ring buffer of the newest events of the live stream, shared by all watchers.
 *
 * A watcher has a position, not a queue: when a slow reader's position is overtaken, the reader is dropped,
 * so it costs nothing. Ids contain the run of the program, because after a restart the numbers start
 * again and an old number would name another event.
 */
export class EventRing {
  readonly #run = randomBytes(6).toString('hex')
  readonly #maxEvents: number
  readonly #maxBytes: number
  #events: LiveEvent[] = []
  #first = 0
  #bytes = 0
  #closed = false
  #waiting: (() => void)[] = []

  constructor(maxEvents = 900, maxBytes = 16 * 1024 * 1024) {
    this.#maxEvents = maxEvents
    this.#maxBytes = maxBytes
  }

  /** Position of the next event. */
  get end(): number {
    return this.#first + this.#events.length
  }

  get closed(): boolean {
    return this.#closed
  }

  push(name: LiveEvent['name'], data: string): void {
    if (this.#closed) return
    this.#events.push({ id: this.resumeId(this.end + 1), name, data })
    this.#bytes += data.length
    while (
      this.#events.length > this.#maxEvents ||
      (this.#bytes > this.#maxBytes && this.#events.length > 1)
    ) {
      this.#bytes -= this.#events.shift()!.data.length
      this.#first++
    }
    this.wake()
  }

  /** The position after the event that `lastEventId` names; null when that position is no longer kept. */
  positionAfter(lastEventId: string): number | null {
    const [run, number] = lastEventId.split('.')
    if (run !== this.#run || !/^\d{1,15}$/.test(number ?? '')) return null
    const position = Number(number)
    return position >= this.#first && position <= this.end ? position : null
  }

  /** Id from which a reader resumes at `position`: every event carries the id of the next position. */
  resumeId(position: number): string {
    return `${this.#run}.${position}`
  }

  /** The event at a position: null when it is still to come, `gone` when it is no longer kept. */
  at(position: number): LiveEvent | null | 'gone' {
    if (position < this.#first) return 'gone'
    return this.#events[position - this.#first] ?? null
  }

  /** Resolves when there is an event at `position`, the ring is closed, or the watcher has left. */
  async reached(position: number, left: () => boolean): Promise<void> {
    while (!this.#closed && !left() && position >= this.end) {
      await new Promise<void>((resolve) => this.#waiting.push(resolve))
    }
  }

  /** Closes the ring and wakes all waiting watchers. */
  close(): void {
    this.#closed = true
    this.wake()
  }

  wake(): void {
    const waiting = this.#waiting
    this.#waiting = []
    for (const wake of waiting) wake()
  }
}
