import { createConnection } from 'node:net'
import { keepOpen, socketConnection } from './keep-open.ts'
import type { Port } from './port.ts'

export interface TcpPortOptions {
  readonly host: string
  readonly port: number
  readonly silenceS?: number
  readonly waitForDevice?: boolean
}

/** A logger that is a TCP server: a Wi-Fi board or a serial-to-network bridge. This program connects to it. */
export function tcpPort(options: TcpPortOptions): Port {
  const { host, port } = options
  const address = `${host.includes(':') ? `[${host}]` : host}:${port}`
  return keepOpen({
    name: `tcp ${address}`,
    origin: { kind: 'tcp', name: address, sha256: null },
    silenceS: options.silenceS,
    waitForDevice: options.waitForDevice,
    connect: (events) => {
      const socket = createConnection({ host, port })
      socket.setKeepAlive(true, 10_000)
      socket.on('data', (chunk) => events.bytes(chunk))
      const refusal = (cause: string) =>
        `tcp ${address}: no logger answers there (${cause}); check address and port`
      return socketConnection(socket, events, refusal, (open) =>
        socket.on('connect', () => open(() => socket.destroy())),
      )
    },
  })
}
