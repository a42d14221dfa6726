import { createServer } from 'node:http'
import { getRequestListener } from '@hono/node-server'
import { HttpWrite } from '#ingest/sources/http-write.ts'
import type { RecordSession } from './record-session.ts'

/**
 * Takes points over HTTP into the session.
 *
 * @returns how to end it
 * @throws Error with one plain sentence
 */
export async function openHttp(
  host: string,
  portText: string,
  session: RecordSession,
  sync: () => void,
  say: (message: string) => void,
): Promise<() => Promise<void>> {
  const port = Number(portText)
  if (!Number.isInteger(port) || port < 0 || port > 65_535) throw new Error(`--http ${portText}: not a port`)
  const token = process.env['STILLHOLD_WRITE_TOKEN'] ?? null
  const isLoopback = host === 'localhost' || host === '::1' || host.startsWith('127.')
  if (!isLoopback && token === null)
    throw new Error(
      `--host ${host}: others could write; set STILLHOLD_WRITE_TOKEN to a secret the clients send`,
    )
  const write = new HttpWrite({
    name: 'http',
    sink: session.sink('http'),
    sync,
    mayWrite: (request) => token === null || bearer(request) === token,
  })
  session.addState((now) => write.state(now))
  const server = createServer(getRequestListener((request) => write.respond(request)))
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      const cause = error.code === 'EADDRINUSE' ? 'another program uses it; name another port' : error.message
      reject(new Error(`--http ${port}: ${cause}`))
    })
    server.listen(port, host, resolve)
  })
  const address = server.address()
  const bound = typeof address === 'object' && address !== null ? address.port : port
  say(
    `Points are taken at http://${host.includes(':') ? `[${host}]` : host}:${bound}/write and /api/v2/write`,
  )
  return () =>
    new Promise((done) => {
      server.close(() => done())
      server.closeAllConnections()
    })
}

/** The token of old (`Token`) and common (`Bearer`) clients. */
function bearer(request: Request): string | null {
  return /^(?:Token|Bearer)\s+(\S+)$/i.exec(request.headers.get('authorization') ?? '')?.[1] ?? null
}
