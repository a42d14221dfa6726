import type { IncomingMessage, Server, ServerResponse } from 'node:http'
import type { Socket } from 'node:net'
import { isLoopback } from './own-hosts.ts'

/** Open connections per address: a page has six, and the devices of a hangar a few pages each. */
const perAddress = 48
/** Open connections of all addresses without a joined device. */
const ofStrangers = 96

interface Connection {
  readonly socket: Socket
  readonly address: string
  /** Requests whose head was received and that are not answered yet. */
  readonly requests: Set<IncomingMessage>
  /** At least one complete request was answered on it. */
  served: boolean
}

/**
 * Prevents connection exhaustion. When an address, or all strangers together, have too many, the oldest connection that
 * waits for its client is closed, so that a new client is answered. This machine and addresses with a joined
 * device are counted apart from strangers.
 */
export class Connections {
  /** Keyed by the client's address and port, which a TLS session shares with the socket below it. */
  readonly #open = new Map<string, Connection>()
  readonly #joined = new Set<string>()

  watch(server: Server): void {
    server.on('connection', (socket: Socket) => this.#opened(socket))
    server.prependListener('request', (request: IncomingMessage, response: ServerResponse) => {
      const connection = this.#open.get(keyOf(request.socket))
      if (!connection) return
      connection.requests.add(request)
      response.once('close', () => {
        connection.requests.delete(request)
        connection.served ||= response.writableFinished && response.statusCode < 400
      })
    })
  }

  /** A device that joined uses this address. */
  joined(address: string): void {
    if (this.#joined.size < 1000) this.#joined.add(address)
  }

  #opened(socket: Socket): void {
    const address = socket.remoteAddress ?? ''
    const all = [...this.#open.values()]
    const same = all.filter((other) => other.address === address)
    const strangers = this.#isStranger(address) ? all.filter((other) => this.#isStranger(other.address)) : []
    const full = same.length >= perAddress ? same : strangers.length >= ofStrangers ? strangers : null
    if (full && !makeRoom(full)) {
      socket.destroy()
      return
    }
    const key = keyOf(socket)
    this.#open.set(key, { socket, address, requests: new Set(), served: false })
    socket.once('close', () => this.#open.delete(key))
  }

  #isStranger(address: string): boolean {
    return !isLoopback(address) && !this.#joined.has(address)
  }
}

function keyOf({ remoteAddress, remotePort }: Socket): string {
  return `${remoteAddress} ${remotePort}`
}

/** Ends the oldest connection that waits for its client, unused ones first; false when there is none. */
function makeRoom(connections: readonly Connection[]): boolean {
  const idle = connections.filter(({ requests }) => [...requests].every(({ complete }) => !complete))
  const oldest =
    idle.find(({ served }) => !served) ??
    idle[0] ??
    // The client does not read its answer.
    connections.find(({ socket }) => socket.writableLength > 0)
  oldest?.socket.destroy()
  return oldest !== undefined
}
