import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { HttpWrite, type HttpWriteOptions, largestBodyBytes } from '#ingest/sources/http-write.ts'
import type { Route } from './guard.ts'

/** A question of an old client is a short statement. */
const questionBytes = 64 * 1024

/** The write protocol for loggers that post their points, and what its clients ask before they write. */
export function writeRoutes(options: HttpWriteOptions): { routes: Route[]; write: HttpWrite } {
  const write = new HttpWrite(options)
  const answer: Route['answer'] = (context) => write.respond(context.req.raw)
  const routes: Route[] = [
    { method: 'POST', path: '/write', for: 'logger', bodyBytes: largestBodyBytes, answer },
    { method: 'POST', path: '/api/v2/write', for: 'logger', bodyBytes: largestBodyBytes, answer },
    { method: 'GET', path: '/query', for: 'anyone', answer },
    { method: 'POST', path: '/query', for: 'anyone', bodyBytes: questionBytes, answer },
    { method: 'GET', path: '/ping', for: 'anyone', answer },
    { method: 'GET', path: '/health', for: 'anyone', answer },
    { method: 'GET', path: '/ready', for: 'anyone', answer },
  ]
  return { routes, write }
}

/** The same into the session of a bench. */
export function sessionWriteRoutes(session: BenchSession): Route[] {
  const { routes, write } = writeRoutes({
    sink: session.receiver({ kind: 'http', name: null, sha256: null }),
    name: 'http',
    keep: (take) => session.keep(take),
  })
  session.addPortState(() => write.state(process.hrtime.bigint()))
  return routes
}
