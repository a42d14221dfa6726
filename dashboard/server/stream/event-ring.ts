import { randomBytes } from 'node:crypto'

/** One event of the live stream. */
export interface LiveEvent {
  readonly id: string
  readonly name: 'samples' | 'state' | 'beat'
  /** JSON text without line breaks. */
  readonly data: string
}

/**
 * The newest events of the live stream, kept once for all watchers.
 *
 * A watcher holds a position, not a queue: whoever reads too slowly finds its position overtaken and is dropped,
 * so a stalled reader costs nothing. Ids carry the run of the program, because after a restart the numbers begin
 * anew and an old number would name another event.
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

  /** Position of the event that will be pushed next. */
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

  /** The position after the event that `lastEventId` names; null when it or what followed it is no longer kept. */
  positionAfter(lastEventId: string): number | null {
    const [run, number] = lastEventId.split('.')
    if (run !== this.#run || !/^\d{1,15}$/.test(number ?? '')) return null
    const position = Number(number)
    return position >= this.#first && position <= this.end ? position : null
  }

  /** Id after which one goes on at `position`: every event carries that of the position behind it. */
  resumeId(position: number): string {
    return `${this.#run}.${position}`
  }

  /** The event at a position: null when it has not happened yet, `gone` when it is no longer kept. */
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

  /** No more events: everyone who waits wakes up. */
  close(): void {
    this.#closed = true
    this.wake()
  }

  /** Lets everyone who waits look again. */
  wake(): void {
    const waiting = this.#waiting
    this.#waiting = []
    for (const wake of waiting) wake()
  }
}
