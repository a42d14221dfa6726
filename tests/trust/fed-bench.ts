import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { fedSystemText } from './fed-logger.ts'
import type { FedPort } from './fed-port.ts'

/** The server in a folder, on a port that is fed by hand; what it has to say goes to `log`, else where it goes by itself. */
export function fedBench(folder: string, port: FedPort, log?: (text: string) => void): Promise<RunningBench> {
  const systemPath = join(folder, 'aircraft.yaml')
  writeFileSync(systemPath, fedSystemText)
  return startBench({
    dataFolder: join(folder, 'data'),
    systemPath,
    ports: [{ port }],
    listen: { host: '127.0.0.1', port: 0 },
    version: '0',
    ...(log && { log }),
  })
}
