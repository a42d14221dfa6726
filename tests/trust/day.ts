import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { ask, send } from '#tests/dashboard/server/ask.ts'
import { until } from '#tests/dashboard/server/until.ts'
import { collectedHeap } from './collected-heap.ts'
import { fedBench } from './fed-bench.ts'
import { FedLogger } from './fed-logger.ts'
import { FedPort } from './fed-port.ts'

/**
 * A session of many hours, fed as fast as the program takes it: memory after each hour; then holds, and what it costs to
 * seal and to see each.
 *
 * `tsx tests/trust/day.ts --hours 24 --rate 10 --marks`: so many lines of eight readings a second; a look marked each hour.
 */
const { values } = parseArgs({
  options: {
    hours: { type: 'string', default: '24' },
    rate: { type: 'string', default: '10' },
    holds: { type: 'string', default: '1' },
    marks: { type: 'boolean', default: false },
  },
})
const rateHz = Number(values.rate)
const folder = mkdtempSync(join(tmpdir(), 'stillhold-day-'))
const port = new FedPort()
const logger = new FedLogger(port, rateHz)
const said: string[] = []

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms))
const tell = (what: object) => process.stdout.write(`${JSON.stringify(what)}\n`)

/** The session's ticks, which take what arrived, come by the clock. */
async function pass(seconds: number): Promise<void> {
  for (let left = seconds; left > 0; left -= 10) {
    logger.say(Math.min(10, left))
    await pause(rateHz > 100 || left % 120 === 0 ? 12 : 0)
  }
  await pause(250)
}

async function timed(path: string): Promise<{ ms: number; kB: number }> {
  const beganMs = performance.now()
  const { status, text } = await ask(bench.server.port, { path })
  if (status !== 200) throw new Error(text)
  return { ms: Math.round(performance.now() - beganMs), kB: text.length >> 10 }
}

async function order(path: string, body: unknown): Promise<void> {
  const { status, text } = await send(bench.server.port, path, body)
  if (status !== 200) throw new Error(text)
}

const sizesMb = (part: string) =>
  readdirSync(join(folder, 'data', part))
    .filter((name) => name.endsWith('.lp'))
    .map((name) => Number((statSync(join(folder, 'data', part, name)).size / 1e6).toFixed(1)))

async function hold(): Promise<void> {
  await order('/api/hold/start', {
    hold: 'h',
    operator: 'O. P.',
    witness: null,
    stateSheet: [],
    retests: null,
  })
  for (; logger.pressureKPa < 70; logger.pressureKPa += 7) await pass(5)
  logger.pumpedS = port.nowS
  for (const [stage, seconds] of [
    ['settle', 120],
    ['hold', 600],
  ] as const) {
    await order('/api/hold/stage', { stage })
    for (let left = seconds; left > 0; left -= 60) {
      await pass(60)
      // The looks at the running hold come by the clock as well.
      await pause(500)
    }
  }
  const inHold = collectedHeap()
  await order('/api/hold/stage', { stage: 'vent' })
  logger.pressureKPa = 0
  logger.pumpedS = Number.POSITIVE_INFINITY
  const before = bench.session.state().last?.record
  const beganMs = performance.now()
  // The end comes by itself when the pressure is gone.
  await pass(60)
  const last = await until(() => {
    const { sealing, last: newest } = bench.session.state()
    return sealing || newest?.record === before ? null : newest
  })
  const sealMs = Math.round(performance.now() - beganMs)
  const open = await timed(`/api/records/${last.record}`)
  const columns = await timed(`/api/records/${last.record}/columns?points=2000`)
  const columnsAgain = await timed(`/api/records/${last.record}/columns?points=2000`)
  const live = await timed('/api/live?points=2000')
  const { verdict, reasons } = last.result
  tell({ hold: last.record, verdict, reasons: reasons.map(({ code }) => code), inHold })
  tell({ recordingsMb: sizesMb('recordings'), sealMs, open, columns, columnsAgain, live, ...collectedHeap() })
}

const bench = await fedBench(folder, port, (text) => said.push(text))
try {
  await pass(60)
  for (let hour = 1; hour <= Number(values.hours); hour++) {
    if (values.marks) await order('/api/mark', { kind: 'look', id: 'F1', fields: { finding: 'dry' } })
    await pass(3600)
    const sizes = sizesMb('session')
    tell({ hour, ...collectedHeap(), files: sizes.length, largestMb: Math.max(...sizes) })
  }
  for (let count = 0; count < Number(values.holds); count++) {
    await hold()
    await pass(120)
  }
  tell({ lines: logger.lines, said: said.slice(-5) })
} finally {
  await bench.stop()
  rmSync(folder, { recursive: true, force: true })
}
