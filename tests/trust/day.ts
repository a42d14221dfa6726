import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { startBench } from '#dashboard/server/start-bench.ts'
import { systemFromFile } from '#ingest/recording/read-system-file.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'

setFlagsFromString('--expose_gc')
const collectGarbage = runInNewContext('gc') as () => void

/** A day at the simulated bench, as fast as it goes: heap after each hour, [MB], and its slope from the fourth on. */
const hours = Number(process.argv[2] ?? 24)
const folder = mkdtempSync(join(tmpdir(), 'stillhold-day-'))
try {
  const systemPath = join(folder, 'aircraft.yaml')
  const text = readFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url), 'utf8')
  writeFileSync(systemPath, text)
  const demo = new DemoBench({ system: systemFromFile(text, systemPath), speed: 1e-9, seed: 5, leaking: {} })
  const bench = await startBench({
    dataFolder: join(folder, 'data'),
    systemPath,
    ports: [{ port: demo }],
    listen: { host: '127.0.0.1', port: 0 },
    version: '0',
    demo,
    demoOperator: false,
  })
  const heapMb: number[] = []
  for (let hour = 0; hour < hours; hour++) {
    for (let part = 0; part < 360; part++) {
      demo.advance(10)
      // The ticks of the session, which take what arrived, come by the clock.
      await new Promise((resolve) => setTimeout(resolve, part % 12 === 0 ? 110 : 0))
    }
    collectGarbage()
    heapMb.push(Number((process.memoryUsage().heapUsed / 1e6).toFixed(1)))
  }
  const settled = heapMb.slice(4)
  const slopeMbPerHour = (settled[settled.length - 1] - settled[0]) / (settled.length - 1)
  await bench.stop()
  process.stdout.write(
    `${JSON.stringify({ hours, heapMb, slopeMbPerHour: Number(slopeMbPerHour.toFixed(3)) })}\n`,
  )
} finally {
  rmSync(folder, { recursive: true, force: true })
}
