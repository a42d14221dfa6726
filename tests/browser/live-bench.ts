import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, BrowserContext } from 'playwright-core'
import type { LiveState } from '#dashboard/api.ts'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import type { Port } from '#ingest/sources/port.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { type Opened, open } from './browser.ts'
import { routePage } from './route-page.ts'

/** A whole bench in this process, whose bench time a test lets pass: a hold of minutes takes seconds. */
export interface LiveBench {
  readonly bench: RunningBench
  readonly demo: DemoBench
  readonly folder: string
  readonly url: string
  state(): Omit<LiveState, 'role'>
  /** Lets bench time pass in steps, with time for the page and for looks in between. */
  pass(seconds: number, done?: () => boolean): Promise<void>
  /** The page just built, before this bench. */
  open(
    browser: Browser,
    path?: string,
    size?: { width: number; height: number },
    page?: { folder: string; before: (context: BrowserContext) => Promise<unknown> },
  ): Promise<Opened>
  close(): Promise<void>
}

interface Options {
  readonly edit?: (systemText: string) => string
  readonly leaking?: Readonly<Record<string, number>>
  /** In place of the simulated bench, in real time. */
  readonly port?: Port
}

export async function startLiveBench(options: Options = {}): Promise<LiveBench> {
  const { edit = (text) => text, leaking = {}, port } = options
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-live-'))
  const systemPath = join(folder, 'aircraft.yaml')
  const text = edit(readFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url), 'utf8'))
  writeFileSync(systemPath, text)
  const system = systemFromFile(text, 'aircraft.yaml')
  // Twice as fast as the clock: clocks that differ are no fault where the speed is not 1.
  const demo = new DemoBench({ system, speed: 2, seed: 3, leaking })
  const bench = await startBench({
    dataFolder: join(folder, 'data'),
    systemPath,
    ports: [{ port: port ?? demo }],
    listen: { host: '127.0.0.1', port: 0 },
    version: '0.0.0-test',
    demo: port ? null : demo,
    demoOperator: false,
  })
  const url = `http://127.0.0.1:${bench.server.port}/`
  return {
    bench,
    demo,
    folder,
    url,
    state: () => bench.session.state(),
    async pass(seconds, done = () => false) {
      for (let left = seconds; left > 0 && !done(); left -= 5) {
        demo.advance(Math.min(5, left))
        await new Promise((resolve) => setTimeout(resolve, 60))
      }
    },
    async open(browser, path = '', size = { width: 1366, height: 768 }, other) {
      const opened = await open(browser, 'about:blank', size)
      await other?.before(opened.context)
      await routePage(opened.page, other?.folder)
      await opened.page.goto(url + path)
      return opened
    },
    async close() {
      await bench.stop()
      rmSync(folder, { recursive: true, force: true })
    },
  }
}
