import type { Socket } from 'node:net'
import type { Origin } from '#analysis/model/origin.ts'
import { arrivalNow } from './arrival-now.ts'
import type { Port, PortListener } from './port.ts'

/** One connection while it lasts. */
export interface Connection {
  /** May still deliver what is held back, such as a half line. */
  close(): Promise<void>
}

export interface ConnectionEvents {
  bytes(chunk: Uint8Array): void
  /** Bytes that came, whether or not they end a line. */
  heard?(chunk: Uint8Array): void
  /** The connection ended by itself; `reason` is null when nothing is known. */
  ended(reason: string | null): void
}

export interface KeepOpenOptions {
  readonly name: string
  readonly origin: Origin
  /** Opens one connection, or rejects with a plain sentence. */
  connect(events: ConnectionEvents): Promise<Connection>
  /** After this long without a byte the connection is taken for dead and opened again, [s]. */
  readonly silenceS?: number
  /** First and longest wait before the next try, [s]. */
  readonly firstWaitS?: number
  readonly longestWaitS?: number
  /** Keep trying when the first try fails, instead of rejecting. */
  readonly waitForDevice?: boolean
}

/** A slow logger is not a dead one: the watchdog never bites before this many of its longest pauses. */
const pausesBeforeSilent = 3
const longestSilenceS = 600

/**
 * A port that is opened again whenever it ends, with growing waits, until it is closed. Also opens again after a
 * silence: drivers stop delivering without a word after minutes to days or after the computer slept.
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

  /** One connection with its watchdog. Late events of an ended one are not heard. */
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
          // It speaks, in whatever way: the watchdog has nothing to mend by opening it again.
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
      // It has spoken for as long as we waited: its pauses are known now, and patience starts anew.
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
      const message = `${name} was unplugged${cause}: put the plug back in, it is opened again by itself`
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
      // Opening resets many boards: wait longer each time, or a logger with long pauses would never get to speak.
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
 * The life of one socket as a connection. What `speak` hears decides when it is open; a socket that ends before, or does
 * not open within ten seconds, is a failure that `refusal` words.
 *
 * @param speak called once; gets the function that opens the connection, given how to take leave
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
