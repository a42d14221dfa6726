import type { Server } from 'node:http'
import { createServer as createTlsServer } from 'node:https'
import type { AddressInfo } from 'node:net'
import { createAdaptorServer } from '@hono/node-server'
import { Connections } from './connections.ts'
import type { GuardOptions, Route } from './guard.ts'
import type { OwnCertificate } from './own-certificate.ts'
import { serveRoutes } from './routes.ts'

export interface ListenAddress {
  readonly host: string
  /** 0 selects any free port. */
  readonly port: number
  /** Serves over TLS with this certificate; absent: plain HTTP. */
  readonly certificate?: OwnCertificate | null
}

export interface RunningServer {
  /** `http://127.0.0.1:4780`, or `https://…` with a certificate. */
  readonly url: string
  readonly port: number
  /** Answers only 'try again' until the work is done, then serves newly built routes. */
  renew(work: () => Promise<void>): Promise<void>
  /** Also ends open streams. */
  stop(): Promise<void>
}

/** Far above the needs of the page and a logger, low enough that strangers cannot exhaust the program. */
const limits = {
  headerBytes: 16 * 1024,
  headersMs: 5_000,
  requestMs: 60_000,
  lookMs: 1000,
  connections: 1000,
}

/**
 * Serves routes behind the guard and the connection limits.
 *
 * @throws Error with one plain sentence when the address is not available
 */
export async function startServer(
  routes: (port: () => number, scheme: 'http' | 'https') => readonly Route[],
  options: Omit<GuardOptions, 'port' | 'joined' | 'scheme'>,
  listen: ListenAddress,
): Promise<RunningServer> {
  let port = listen.port
  const { certificate } = listen
  const scheme = certificate ? 'https' : 'http'
  const connections = new Connections()
  const guard = {
    ...options,
    port: () => port,
    scheme,
    joined: (a: string) => connections.joined(a),
  } as const
  const makeApp = () => serveRoutes(routes(guard.port, scheme), guard)
  let app: ReturnType<typeof makeApp> | null = makeApp()
  const server = createAdaptorServer({
    fetch: (request, env) =>
      app?.fetch(request, env) ??
      Response.json({ error: 'The bench changes to another aircraft: try again.' }, { status: 503 }),
    overrideGlobalObjects: false,
    ...(certificate ? { createServer: createTlsServer } : {}),
    serverOptions: {
      ...(certificate ? { key: certificate.key, cert: certificate.cert } : {}),
      maxHeaderSize: limits.headerBytes,
      headersTimeout: limits.headersMs,
      requestTimeout: limits.requestMs,
      connectionsCheckingInterval: limits.lookMs,
    },
  }) as Server
  server.maxConnections = limits.connections
  connections.watch(server)
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(listenError(error, listen)))
    server.listen(listen.port, listen.host, () => resolve())
  })
  port = (server.address() as AddressInfo).port
  const shownHost = ['0.0.0.0', '::'].includes(listen.host) ? '127.0.0.1' : listen.host
  return {
    url: `${scheme}://${shownHost.includes(':') ? `[${shownHost}]` : shownHost}:${port}`,
    port,
    async renew(work) {
      app = null
      try {
        await work()
      } finally {
        app = makeApp()
      }
    },
    stop: () =>
      new Promise((resolve) => {
        server.close(() => resolve())
        server.closeAllConnections()
      }),
  }
}

function listenError(error: NodeJS.ErrnoException, { host, port }: ListenAddress): Error {
  const where = `${host}:${port}`
  if (error.code === 'EADDRINUSE') {
    return new Error(
      `${where} is in use, perhaps by another stillhold: stop it or choose another port with --listen`,
    )
  }
  if (error.code === 'EACCES')
    return new Error(`${where} is not allowed: choose a port above 1023 with --listen`)
  if (error.code === 'EADDRNOTAVAIL')
    return new Error(`${host} is not an address of this machine: see --listen`)
  return new Error(`cannot listen on ${where}: ${error.message}`)
}
