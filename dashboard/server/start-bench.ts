import { join } from 'node:path'
import { type Archive, openArchive } from '#dashboard/archive/archive.ts'
import { makeFolder } from '#dashboard/archive/archive-folder.ts'
import type { DemoBench } from '#ingest/sources/demo-bench.ts'
import { demoSession } from '#ingest/sources/demo-session.ts'
import { benchRoutes } from './http/bench-routes.ts'
import { packageFolder } from './http/package-folder.ts'
import { RequestError } from './http/request-error.ts'
import { type ListenAddress, type RunningServer, startServer } from './http/server.ts'
import type { Sharing } from './http/sharing.ts'
import { readStaticPage } from './http/static-page.ts'
import { AnalysisThread } from './session/analysis-thread.ts'
import { BenchSession } from './session/bench-session.ts'
import { DemoOperator } from './session/demo-operator.ts'
import type { SessionPort } from './session/session-ports.ts'
import { SystemFileOnDisk } from './session/system-file-on-disk.ts'
import type { Workshop } from './workshop.ts'

export interface BenchOptions {
  readonly dataFolder: string
  readonly systemPath: string
  readonly ports: readonly SessionPort[]
  readonly listen: ListenAddress
  readonly version: string
  /** Null while only this machine may connect. */
  readonly sharing?: Sharing | null
  /** Token of loggers that write over HTTP; null where they may not. */
  readonly writeToken?: string | null
  /** The simulated bench, which must be one of the ports. */
  readonly demo?: DemoBench | null
  /** False leaves the demo bench to the visitor from the start. */
  readonly demoOperator?: boolean
  readonly speed?: number
  /** Aircraft of the workshop; absent where there is only one. */
  readonly aircraft?: string
  readonly workshop?: Workshop | null
  readonly forward?: (line: string) => void
  readonly log?: (line: string) => void
}

export interface RunningBench {
  readonly session: BenchSession
  readonly archive: Archive
  readonly server: RunningServer
  stop(): Promise<void>
}

/**
 * Assembles the bench: archive, session, server. Only here and in the command line do a port and an
 * archive meet.
 *
 * @throws Error with one plain sentence when the archive, a port or the address is not available
 */
export async function startBench(options: BenchOptions): Promise<RunningBench> {
  const { sharing = null, writeToken = null, workshop = null, version } = options
  const page = readStaticPage(join(packageFolder(), 'dist', 'web'))
  let bench = makeBench(options)
  try {
    const server = await startServer(
      (port, scheme) => {
        const takesPoints = writeToken !== null
        return benchRoutes({ ...bench, version, page, sharing, port, scheme, takesPoints, workshop })
      },
      { sharing, lan: sharing !== null, writeToken },
      options.listen,
    )
    const stop = async () => {
      await bench.endSession()
      await server.stop()
      await bench.close()
    }
    try {
      await bench.open()
    } catch (error) {
      await stop()
      throw error
    }
    let now = options
    if (workshop)
      workshop.open = (aircraft) => {
        const { running, sealing } = bench.session.controller
        const before = now
        if (running || sealing)
          throw new RequestError(409, `A hold of ${workshop.chosen.id} is running: end it first.`)
        return server.renew(async () => {
          const change = async (to: BenchOptions) => {
            await bench.endSession()
            await bench.close()
            bench = makeBench(to)
            await bench.open()
            now = to
          }
          await change({ ...before, ...workshop.benchOf(aircraft) }).catch(async (error: Error) => {
            await change(before)
            throw new RequestError(409, `${aircraft.id} cannot come to the bench: ${error.message}.`)
          })
        })
      }
    return {
      get session() {
        return bench.session
      },
      get archive() {
        return bench.archive
      },
      server,
      stop,
    }
  } catch (error) {
    await bench.close()
    throw error
  }
}

/** Archive, session and demo driver of one aircraft. */
function makeBench(options: BenchOptions) {
  const { demo = null, log = () => {}, version } = options
  const folder = join(options.dataFolder, 'session')
  makeFolder(folder)
  const archive = openArchive(options.dataFolder, { programVersion: version, caution: log })
  for (const notice of archive.notices) log(notice)
  const recordThread = new AnalysisThread()
  const session = new BenchSession({
    systemFile: new SystemFileOnDisk(options.systemPath),
    archive,
    folder,
    ports: options.ports,
    version,
    speed: demo?.speed ?? options.speed ?? 1,
    demo: demo !== null,
    aircraft: options.aircraft,
    forward: options.forward,
    log,
    ...(demo ? demoHooks(demo) : {}),
  })
  const operator = demo && new DemoOperator(session, demo, demoSession)
  if (operator) session.demoOperator = () => operator.show()
  return {
    session,
    archive,
    recordThread,
    demo: operator,
    async open() {
      await session.open()
      if (options.demoOperator !== false) operator?.start()
    },
    async endSession() {
      await operator?.handOver()
      await session.close()
    },
    async close() {
      await recordThread.close()
      archive.close()
    },
  }
}

/** Forwards a person's actions to the simulated bench. */
function demoHooks(demo: DemoBench) {
  return {
    onStage: (stage: Parameters<DemoBench['command']>[0], hold: string) => demo.command(stage, hold),
    onMark: ({
      kind,
      id,
      fields,
    }: {
      kind: string
      id?: string
      fields: Readonly<Record<string, unknown>>
    }) => {
      if (id === undefined) return
      if (kind === 'work') demo.tighten(id)
      if (kind === 'check') demo.check(id, fields.open === true)
      if (kind === 'valve' && fields.open === true) demo.openValve(id)
      if (kind === 'valve' && fields.open === false) demo.closeValve(id)
    },
  }
}
