import type { IncomingMessage, Server, ServerResponse } from 'node:http'
import type { Socket } from 'node:net'
import { isLoopback } from './own-hosts.ts'

/** Open connections of one address: a page has six, and a hangar's devices a few pages each. */
const perAddress = 48
/** Open connections of all addresses together from which no device has joined. */
const ofStrangers = 96

interface Connection {
  readonly socket: Socket
  readonly address: string
  /** Requests whose head came and that are not answered yet. */
  readonly requests: Set<IncomingMessage>
  /** A whole request was answered on it. */
  served: boolean
}

/**
 * Keeps connections from being used up. Where an address, or strangers together, have too many, the oldest that waits for
 * its client gives way to the new one, so that whoever connects now is answered. This machine and addresses from
 * which a device has joined are counted apart from strangers.
 */
export class Connections {
  /** By address and port of the client, which the socket below a TLS session has in common with it. */
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

/** Ends the oldest connection whose client keeps us waiting, rather one that was never of use; false when none does. */
function makeRoom(connections: readonly Connection[]): boolean {
  const idle = connections.filter(({ requests }) => [...requests].every(({ complete }) => !complete))
  const oldest =
    idle.find(({ served }) => !served) ??
    idle[0] ??
    // One that does not read its answer.
    connections.find(({ socket }) => socket.writableLength > 0)
  oldest?.socket.destroy()
  return oldest !== undefined
}
