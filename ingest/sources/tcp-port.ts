import { createConnection } from 'node:net'
import { type Connection, type ConnectionEvents, keepOpen } from './keep-open.ts'
import type { Port } from './port.ts'

export interface TcpPortOptions {
  readonly host: string
  readonly port: number
  readonly name?: string
  readonly silenceS?: number
  readonly waitForDevice?: boolean
}

/** A logger that serves its lines over TCP: a Wi-Fi board or a serial-to-network bridge. We call it. */
export function tcpPort(options: TcpPortOptions): Port {
  const { host, port } = options
  const address = `${host.includes(':') ? `[${host}]` : host}:${port}`
  return keepOpen({
    name: options.name ?? `tcp ${address}`,
    origin: { kind: 'tcp', name: address, sha256: null },
    silenceS: options.silenceS,
    waitForDevice: options.waitForDevice,
    connect: (events) => connect(host, port, address, events),
  })
}

function connect(host: string, port: number, address: string, events: ConnectionEvents): Promise<Connection> {
  return new Promise((resolve, reject) => {
    const socket = createConnection({ host, port })
    socket.setKeepAlive(true, 10_000)
    const timer = setTimeout(() => socket.destroy(new Error('no answer in 10 s')), 10_000)
    let opened = false
    let cause: string | null = null
    socket.on('connect', () => {
      clearTimeout(timer)
      opened = true
      resolve({
        close: () =>
          new Promise((done) => {
            socket.once('close', () => done())
            socket.destroy()
          }),
      })
    })
    socket.on('data', (chunk) => events.bytes(chunk))
    socket.on('error', (error) => {
      cause = error.message
    })
    socket.on('close', () => {
      clearTimeout(timer)
      if (opened) events.ended(cause)
      else
        reject(
          new Error(`tcp ${address}: no logger answers there (${cause ?? 'closed'}); check address and port`),
        )
    })
  })
}
