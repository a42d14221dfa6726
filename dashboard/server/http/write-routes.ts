import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { HttpWrite, type HttpWriteOptions, largestBodyBytes } from '#ingest/sources/http-write.ts'
import type { Route } from './guard.ts'

/** Limit of a query of an old client, which is a short statement. */
const questionBytes = 64 * 1024

/** The write protocol for loggers that post points, and the queries that its clients send before they write. */
export function writeRoutes(options: HttpWriteOptions): { routes: Route[]; write: HttpWrite } {
  const write = new HttpWrite(options)
  const answer: Route['answer'] = (context) => write.respond(context.req.raw)
  const points = { method: 'POST', for: 'logger', bodyBytes: largestBodyBytes, answer } as const
  const question = { method: 'GET', for: 'anyone', answer } as const
  const routes: Route[] = [
    { ...points, path: '/write' },
    { ...points, path: '/api/v2/write' },
    { ...points, path: '/api/v3/write_lp' },
    { ...question, path: '/query' },
    { ...question, path: '/query', method: 'POST', bodyBytes: questionBytes },
    ...['/ping', '/health', '/ready'].map((path) => ({ ...question, path })),
  ]
  return { routes, write }
}

/** The same for the session of a bench. While the simulated bench is chosen, loggers are told to send again later. */
export function sessionWriteRoutes(session: BenchSession): Route[] {
  const { routes, write } = writeRoutes({
    sink: session.core.receiver({ kind: 'http', name: null, sha256: null }),
    name: 'http',
    keep(take) {
      if (session.core.options.demo)
        throw new Error('the simulated bench is chosen; choose the aircraft of this logger at /aircraft')
      session.core.recording.keep(take)
    },
  })
  session.ports.addOther(() => write.state(process.hrtime.bigint()))
  return routes
}
