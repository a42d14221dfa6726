import { createHash, timingSafeEqual } from 'node:crypto'
import { Hono } from 'hono'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { HttpWrite, httpWritePaths } from '#ingest/sources/http-write.ts'
import type { Env } from './guard.ts'

/** The write protocol for loggers that post their points; what may be written needs the token. */
export function writeRoutes(session: BenchSession, token: string): Hono<Env> {
  const write = new HttpWrite({
    sink: session.receiver(),
    name: 'http',
    sync: () => session.sync(),
    mayWrite: (request) => givenTokens(request).some((given) => isSame(given, token)),
  })
  session.addPortState(() => write.state(process.hrtime.bigint()))
  const app = new Hono<Env>()
  for (const path of httpWritePaths) app.all(path, (context) => write.respond(context.req.raw))
  return app
}

/** New clients send `Token` or `Bearer`, old ones a password, in the header or in the address. */
function givenTokens(request: Request): string[] {
  const header = request.headers.get('authorization') ?? ''
  const [scheme, value = ''] = header.split(/\s+/, 2)
  const found = [new URL(request.url).searchParams.get('p') ?? '']
  if (/^(token|bearer)$/i.test(scheme)) found.push(value)
  if (/^basic$/i.test(scheme))
    found.push(
      Buffer.from(value, 'base64')
        .toString('utf8')
        .replace(/^[^:]*:/, ''),
    )
  return found
}

function isSame(given: string, token: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest()
  return timingSafeEqual(digest(given), digest(token))
}
