import { appendFileSync } from 'node:fs'
import { join } from 'node:path'
import { postLines } from './post-lines.ts'
import { Spool, type SpoolBatch } from './spool.ts'
import type { WriteAddress } from './write-address.ts'

export interface ForwarderOptions {
  readonly address: WriteAddress
  /** Folder of the queue; one per server. */
  readonly folder: string
  /** Maximum size of the queue on the disk, [bytes]. */
  readonly limitBytes?: number
  /** One plain sentence when the state changes: server lost, found again, points lost. */
  readonly notice?: (message: string) => void
}

export interface ForwarderState {
  readonly sent: number
  readonly waiting: number
  /** Dropped from the full queue. */
  readonly lost: number
  /** Moved to `refused.lp` because the server refused them. */
  readonly refused: number
  readonly fault: string | null
}

const idleMs = 500
const firstWaitMs = 500
const longestWaitMs = 15_000
const defaultLimitBytes = 256_000_000

/**
 * Mirrors points to a time-series server. Every line goes through the queue on the disk, so an outage of the server
 * or of this program loses nothing that fits the queue. Delivery is at least once; a server that keys points by
 * series and time, as the protocol requires, stores each once.
 */
export class Forwarder {
  readonly #options: ForwarderOptions
  readonly #spool: Spool
  readonly #stop = new AbortController()
  readonly #running: Promise<void>
  #wake: (() => void) | null = null
  #sent = 0
  #refused = 0
  #fault: string | null = null
  #lostReported = 0
  #closing = false

  constructor(options: ForwarderOptions) {
    this.#options = options
    this.#spool = new Spool(options.folder, options.limitBytes ?? defaultLimitBytes)
    this.#running = this.#run()
  }

  /** Queues one line of line protocol with its timestamp, in nanoseconds. */
  push(line: string): void {
    this.#spool.push(line)
  }

  state(): ForwarderState {
    const { waiting, lost } = this.#spool
    return { sent: this.#sent, waiting, lost, refused: this.#refused, fault: this.#fault }
  }

  /** Sends the queue if the server answers at once; the rest stays on the disk for the next start. */
  async close(patienceMs = 5_000): Promise<void> {
    this.#closing = true
    this.#wake?.()
    const timer = setTimeout(() => this.#halt(), patienceMs)
    await this.#running
    clearTimeout(timer)
    this.#spool.close()
  }

  #halt(): void {
    this.#stop.abort()
    this.#wake?.()
  }

  async #run(): Promise<void> {
    let waitMs = firstWaitMs
    while (!this.#stop.signal.aborted) {
      const batch = this.#take()
      this.#reportLost()
      if (batch === null) {
        if (this.#closing) return
        await this.#sleep(idleMs)
        continue
      }
      const lines = batch.text.split('\n').filter((line) => line !== '')
      const failure = await this.#send(lines)
      if (failure === null) {
        batch.done()
        waitMs = firstWaitMs
        if (this.#fault !== null) this.#say(null, `${this.#options.address.shown} accepts points again`)
        if (this.#spool.waiting === 0 && !this.#closing) await this.#sleep(idleMs)
        continue
      }
      this.#spool.putBack()
      if (this.#closing) return
      this.#say(failure, `${failure}; points are kept on the disk until it answers`)
      await this.#sleep(waitMs)
      waitMs = Math.min(waitMs * 2, longestWaitMs)
    }
  }

  #take(): SpoolBatch | null {
    try {
      return this.#spool.take()
    } catch (error) {
      this.#spool.putBack()
      const message = error instanceof Error ? error.message : String(error)
      this.#say(message, `the queue for ${this.#options.address.shown} cannot be read: ${message}`)
      return null
    }
  }

  /** Sends all lines; bisects a refused batch to find the bad line. Returns the reason when the server is unavailable. */
  async #send(lines: readonly string[]): Promise<string | null> {
    const outcome = await postLines(this.#options.address, lines, this.#stop.signal)
    if (outcome.kind === 'taken') {
      this.#sent += lines.length
      return null
    }
    if (outcome.kind === 'later') return outcome.message
    if (lines.length > 1) {
      const middle = lines.length >> 1
      return (await this.#send(lines.slice(0, middle))) ?? (await this.#send(lines.slice(middle)))
    }
    this.#refused++
    const reason = outcome.message.replace(/\s+/g, ' ')
    appendFileSync(join(this.#options.folder, 'refused.lp'), `# ${reason}\n${lines[0]}\n`)
    this.#options.notice?.(`${this.#options.address.shown} refused a point, kept in refused.lp: ${reason}`)
    return null
  }

  #say(fault: string | null, message: string): void {
    if (this.#fault === null || fault === null) this.#options.notice?.(message)
    this.#fault = fault
  }

  #reportLost(): void {
    const { lost } = this.#spool
    if (lost === this.#lostReported) return
    this.#lostReported = lost
    const why = this.#spool.fault === null ? 'is full' : `cannot be written (${this.#spool.fault})`
    const { shown } = this.#options.address
    this.#options.notice?.(
      `the queue for ${shown} ${why}: ${lost} points will not reach it; the recording here has them all`,
    )
  }

  #sleep(ms: number): Promise<void> {
    if (this.#closing && ms === idleMs) return Promise.resolve()
    return new Promise((resolve) => {
      const timer = setTimeout(done, ms)
      const self = this
      function done() {
        clearTimeout(timer)
        self.#wake = null
        resolve()
      }
      this.#wake = done
    })
  }
}
