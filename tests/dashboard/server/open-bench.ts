import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type BenchOptions, type RunningBench, startBench } from '#dashboard/server/start-bench.ts'

/** A temporary folder with the demo aircraft's system file. */
export function benchFolder(): { folder: string; systemPath: string; remove: () => void } {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-test-'))
  const systemPath = join(folder, 'aircraft.yaml')
  mkdirSync(folder, { recursive: true })
  copyFileSync(new URL('../../../recordings/floatplane.yaml', import.meta.url), systemPath)
  return { folder, systemPath, remove: () => rmSync(folder, { recursive: true, force: true }) }
}

/** A real bench with archive and server on a free port of the loopback. */
export async function openBench(
  at: { folder: string; systemPath: string },
  options: Partial<BenchOptions> = {},
): Promise<RunningBench & { readonly said: string[] }> {
  const said: string[] = []
  const bench = await startBench({
    dataFolder: join(at.folder, 'data'),
    systemPath: at.systemPath,
    ports: [],
    listen: { host: '127.0.0.1', port: 0 },
    version: '0.0.0-test',
    log: (line) => said.push(line),
    ...options,
  })
  return { ...bench, said }
}
