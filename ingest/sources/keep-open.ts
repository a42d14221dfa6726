import type { Socket } from 'node:net'
import type { Origin } from '#analysis/model/origin.ts'
import { arrivalNow } from './arrival-now.ts'
import type { Port, PortListener } from './port.ts'

/** One open connection. */
export interface Connection {
  /** May still deliver buffered bytes, such as a half line. */
  close(): Promise<void>
}

export interface ConnectionEvents {
  bytes(chunk: Uint8Array): void
  /** Received bytes, whether or not they end a line. */
  heard?(chunk: Uint8Array): void
  /** The connection ended without `close`; `reason` is null when unknown. */
  ended(reason: string | null): void
}

export interface KeepOpenOptions {
  readonly name: string
  readonly origin: Origin
  /** Opens one connection, or rejects with a plain sentence. */
  connect(events: ConnectionEvents): Promise<Connection>
  /** After this long without a byte the connection counts as dead and is reopened, [s]. */
  readonly silenceS?: number
  /** First and longest wait before the next attempt, [s]. */
  readonly firstWaitS?: number
  readonly longestWaitS?: number
  /** Retry when the first attempt fails, instead of rejecting. */
  readonly waitForDevice?: boolean
}

/** A slow logger is not dead: the watchdog waits at least this many of its longest pauses. */
const pausesBeforeSilent = 3
const longestSilenceS = 600

/**
 * A port that reopens whenever it ends, with exponential backoff, until it is closed. It also reopens after a
 * silence: drivers stop delivering without an error after minutes to days or after the computer slept.
 */
export function keepOpen(options: KeepOpenOptions): Port & { reopen(): Promise<void> } {
  const { name, silenceS = 10, firstWaitS = 0.25, longestWaitS = 5 } = options
  let listener: PortListener
  let wanted = false
  let link: Link | null = null
  let waitS = firstWaitS
  let retry: NodeJS.Timeout | undefined
  let patienceS = silenceS
  let longestPauseS = 0

  /** One connection with its watchdog. Late events of an ended one are ignored. */
  class Link {
    connection: Connection | null = null
    #ending = false
    #over = false
    #watchdog: NodeJS.Timeout | undefined
    #lastByteNs: bigint | null = null
    #openedNs = 0n

    async connect(): Promise<void> {
      this.connection = await options.connect({
        bytes: (chunk) => this.#bytes(chunk),
        heard: (chunk) => {
          // Any data feeds the watchdog: reopening would not help.
          if (this.#over) return
          this.#watch()
          listener.heard?.(chunk)
        },
        ended: (reason) => this.#ended(reason),
      })
      if (!wanted || this.#ending) {
        await this.connection.close()
        return
      }
      const arrival = arrivalNow()
      this.#openedNs = arrival.monotonicNs
      listener.opened(arrival)
      this.#watch()
    }

    #bytes(chunk: Uint8Array): void {
      if (this.#over) return
      const arrival = arrivalNow()
      if (this.#lastByteNs !== null)
        longestPauseS = Math.max(longestPauseS, Number(arrival.monotonicNs - this.#lastByteNs) / 1e9)
      this.#lastByteNs = arrival.monotonicNs
      // It has sent data for longer than the timeout, so its pauses are known: reset the timeout.
      if (Number(arrival.monotonicNs - this.#openedNs) / 1e9 > patienceS) patienceS = silenceS
      waitS = firstWaitS
      if (!this.#ending) this.#watch()
      listener.bytes(chunk, arrival)
    }

    #ended(reason: string | null): void {
      if (this.#ending) return
      this.#ending = true
      const cause = reason === null ? '' : ` (${reason})`
      this.#finish()
      const message = `${name} was unplugged${cause}: plug it back in; it reopens automatically`
      listener.fault({ code: 'unplugged', message }, arrivalNow())
      tryLater()
    }

    #watch(): void {
      clearTimeout(this.#watchdog)
      const limitS = Math.max(patienceS, pausesBeforeSilent * longestPauseS)
      this.#watchdog = setTimeout(() => void this.#silent(limitS), limitS * 1000)
    }

    async #silent(limitS: number): Promise<void> {
      const message = `${name} has sent nothing for ${Number(limitS.toFixed(1))} s: check the logger's power and the baud rate`
      listener.fault({ code: 'silent', message }, arrivalNow())
      // Opening resets many boards: wait longer each time, or a logger with long pauses would never send.
      patienceS = Math.min(patienceS * 2, longestSilenceS)
      await this.close()
      tryLater()
    }

    async close(): Promise<void> {
      if (this.#ending) return
      this.#ending = true
      await this.connection?.close().catch(() => undefined)
      this.#finish()
    }

    #finish(): void {
      clearTimeout(this.#watchdog)
      if (this.#over) return
      this.#over = true
      if (link === this) link = null
      if (this.connection !== null) listener.closed(arrivalNow())
    }
  }

  async function connect(): Promise<void> {
    const next = new Link()
    link = next
    try {
      await next.connect()
    } catch (error) {
      if (link === next) link = null
      throw error
    }
  }

  function tryLater(): void {
    if (!wanted) return
    clearTimeout(retry)
    retry = setTimeout(() => connect().catch(tryLater), waitS * 1000)
    waitS = Math.min(waitS * 1.6, longestWaitS)
  }

  return {
    name,
    origin: options.origin,
    joinsMidLine: true,
    async reopen() {
      await link?.close()
      tryLater()
    },
    async open(newListener) {
      if (wanted) throw new TypeError(`port ${name} is open already`)
      listener = newListener
      wanted = true
      try {
        await connect()
      } catch (error) {
        const message = error instanceof Error ? error.message : String(error)
        listener.fault({ code: 'open-failed', message }, arrivalNow())
        if (options.waitForDevice !== true) {
          wanted = false
          throw error
        }
        tryLater()
      }
    },
    async close() {
      wanted = false
      clearTimeout(retry)
      await link?.close()
    },
  }
}

/**
 * One socket as a connection. `speak` decides when it is open. A socket that ends before, or does not open within
 * ten seconds, is rejected with the message from `refusal`.
 *
 * @param speak called once with the function that declares the connection open, given how to close it
 */
export function socketConnection(
  socket: Socket,
  events: ConnectionEvents,
  refusal: (cause: string) => string,
  speak: (open: (leave: () => void) => void) => void,
): Promise<Connection> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => socket.destroy(new Error('no answer in 10 s')), 10_000)
    let opened = false
    let cause: string | null = null
    speak((leave) => {
      clearTimeout(timer)
      opened = true
      const close = () =>
        new Promise<void>((done) => {
          socket.once('close', () => done())
          leave()
        })
      resolve({ close })
    })
    socket.on('error', (error) => {
      cause = error.message
    })
    socket.on('close', () => {
      clearTimeout(timer)
      if (opened) events.ended(cause)
      else reject(new Error(refusal(cause ?? 'closed')))
    })
  })
}
