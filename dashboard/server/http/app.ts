import { Hono } from 'hono'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import type { AnalysisThread } from '#dashboard/server/session/analysis-thread.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { type Env, guard } from './guard.ts'
import { joinPage } from './join-page.ts'
import { limitBody } from './limit-body.ts'
import { liveRoutes } from './live-routes.ts'
import { pageHeaders } from './page-headers.ts'
import { proofRoutes } from './proof-routes.ts'
import { recordRoutes } from './record-routes.ts'
import { RequestError } from './request-error.ts'
import type { Sharing } from './sharing.ts'
import { sharingRoutes } from './sharing-routes.ts'
import type { PageFile } from './static-page.ts'
import { staticRoutes } from './static-routes.ts'
import { systemRoutes } from './system-routes.ts'
import { wetRoutes } from './wet-routes.ts'

export interface AppParts {
  readonly version: string
  readonly session: BenchSession
  readonly archive: Archive
  /** Reads and recomputes records beside the thread that looks at the running hold. */
  readonly recordThread: AnalysisThread
  readonly page: ReadonlyMap<string, PageFile>
  /** Null while only this machine may connect. */
  readonly sharing: Sharing | null
  /** The port in use; known only once the server listens. */
  readonly port: () => number
  readonly scheme: 'http' | 'https'
  /** Routes by which loggers deliver over HTTP; null where they may not. */
  readonly write: Hono<Env> | null
  /** Routes of the demo bench; null on a real one. */
  readonly demo: Hono<Env> | null
}

/** Everything the server answers, behind one guard. */
export function createApp(parts: AppParts): Hono<Env> {
  const app = new Hono<Env>()
  app.use(pageHeaders)
  app.use(guard(parts))
  if (parts.write) app.route('/', parts.write)
  app.use(limitBody)
  if (parts.sharing) app.route('/', joinPage(parts.sharing, parts.scheme))
  app.route('/', sharingRoutes(parts.sharing, parts.port, parts.scheme))
  app.route('/', liveRoutes(parts.session))
  app.route('/', systemRoutes(parts.session, parts.recordThread))
  app.route('/', recordRoutes(parts.archive, parts.recordThread, parts.version))
  app.route('/', proofRoutes(parts.session, parts.archive, parts.recordThread, parts.version))
  app.route('/', wetRoutes(parts.session, parts.archive))
  if (parts.demo) app.route('/', parts.demo)
  app.route('/', staticRoutes(parts.page))
  app.notFound((context) =>
    context.json({ error: `There is nothing at ${context.req.path.slice(0, 100)}.` }, 404),
  )
  app.onError((error, context) => {
    if (error instanceof RequestError) return context.json({ error: error.message }, error.status)
    if (error instanceof ArchiveError) {
      return context.json({ error: error.message }, error.code === 'not-found' ? 404 : 500)
    }
    process.stderr.write(`${context.req.method} ${context.req.path}: ${error.stack ?? error.message}\n`)
    return context.json({ error: `The program failed at this request: ${error.message}` }, 500)
  })
  return app
}
