import type { Archive } from '#dashboard/archive/archive.ts'
import type { AnalysisThread } from '#dashboard/server/session/analysis-thread.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import type { DemoOperator } from '#dashboard/server/session/demo-operator.ts'
import type { Workshop } from '#dashboard/server/workshop.ts'
import { aircraftRoutes } from './aircraft-routes.ts'
import type { Route } from './guard.ts'
import { importRoutes } from './import-routes.ts'
import { liveRoutes } from './live-routes.ts'
import { plainStyle } from './plain-page.ts'
import { recordRoutes } from './record-routes.ts'
import { RouteTable } from './routes.ts'
import type { Sharing } from './sharing.ts'
import { sharingRoutes } from './sharing-routes.ts'
import { type PageFile, staticRoutes } from './static-page.ts'
import { systemRoutes } from './system-routes.ts'
import { wetRoutes } from './wet-routes.ts'
import { sessionWriteRoutes } from './write-routes.ts'

export interface BenchParts {
  readonly version: string
  readonly session: BenchSession
  readonly archive: Archive
  /** Reads and recomputes records on a separate thread from the analysis of the running hold. */
  readonly recordThread: AnalysisThread
  readonly page: ReadonlyMap<string, PageFile>
  /** Null while only this machine may connect. */
  readonly sharing: Sharing | null
  /** The port in use; known only after the server starts to listen. */
  readonly port: () => number
  readonly scheme: 'http' | 'https'
  /** Whether loggers may write over HTTP. */
  readonly takesPoints: boolean
  /** Who drives the demo bench; null on a real one. */
  readonly demo: DemoOperator | null
  /** The aircraft to choose from; null where there is only one. */
  readonly workshop: Workshop | null
}

export function benchRoutes(parts: BenchParts): Route[] {
  const { session, archive, recordThread, version, workshop } = parts
  const table = new RouteTable()
  if (parts.sharing || workshop) plainStyle(table)
  sharingRoutes(table, parts.sharing, parts.port, parts.scheme)
  if (workshop) aircraftRoutes(table, workshop)
  liveRoutes(table, session, parts.demo)
  systemRoutes(table, session, recordThread)
  importRoutes(table, session, archive)
  recordRoutes(table, session, archive, recordThread, version)
  wetRoutes(table, session, archive)
  staticRoutes(table, parts.page)
  return [...(parts.takesPoints ? sessionWriteRoutes(session) : []), ...table.routes]
}
