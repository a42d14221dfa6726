import { isLoopbackHost } from '#dashboard/server/http/own-hosts.ts'
import { startServer } from '#dashboard/server/http/server.ts'
import { writeRoutes } from '#dashboard/server/http/write-routes.ts'
import { writeTokenFrom } from '#dashboard/server/http/write-token.ts'
import type { RecordSession } from './record-session.ts'

/**
 * Accepts points over HTTP for the session, behind the same guard as the bench's page.
 *
 * @returns a function that stops it
 * @throws Error with one plain sentence
 */
export async function openHttp(
  host: string,
  portText: string,
  session: RecordSession,
  keep: (take: () => void) => void,
  say: (message: string) => void,
): Promise<() => Promise<void>> {
  const port = Number(portText)
  if (!Number.isInteger(port) || port < 0 || port > 65_535) throw new Error(`--http ${portText}: not a port`)
  const writeToken = writeTokenFrom(process.env)
  const { routes, write } = writeRoutes({
    name: 'http',
    sink: session.sink('http', { kind: 'http', name: null, sha256: null }),
    keep,
  })
  session.addState((now) => write.state(now))
  const options = { sharing: null, lan: !isLoopbackHost(host), writeToken }
  const server = await startServer(() => routes, options, { host, port })
  say(`Loggers may write to ${server.url}/api/v2/write with the token ${writeToken}`)
  return () => server.stop()
}
