import { mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { startBench } from '#dashboard/server/start-bench.ts'
import { ask, send } from '#tests/dashboard/server/ask.ts'
import { FedPort } from './fed-port.ts'

setFlagsFromString('--expose_gc')
const collectGarbage = runInNewContext('gc') as () => void

/**
 * A session of many hours, fed as fast as the program takes it: memory after each hour, [MB], with the garbage collected;
 * then a hold, and what it costs to see it.
 *
 * `tsx tests/trust/day.ts --hours 24 --rate 10 --marks`: so many lines of eight readings a second; with a look marked each hour.
 */
const { values } = parseArgs({
  options: {
    hours: { type: 'string', default: '24' },
    rate: { type: 'string', default: '10' },
    marks: { type: 'boolean', default: false },
    holds: { type: 'string', default: '1' },
  },
})
const hours = Number(values.hours)
const rateHz = Number(values.rate)
const channels = 8
const folder = mkdtempSync(join(tmpdir(), 'stillhold-day-'))

const systemText = `stillhold: 1
name: a day
channels:
${Array.from({ length: channels - 1 }, (_, i) => `  - { id: p${i}, measures: gauge-pressure, section: ${i === 0 ? 'line' : `other-${i}`}, from: { measurement: logger, field: p${i} }, unit: kPa, range: 0 kPa to 200 kPa }`).join('\n')}
  - { id: t, measures: temperature, section: line, from: { measurement: logger, field: p7 }, unit: degC }
sections:
  - { id: line, medium: air, volume: 0.35 L ± 10 %, max-pressure: 1.5 bar }
${Array.from({ length: channels - 2 }, (_, i) => `  - { id: other-${i + 1}, medium: air, volume: 0.35 L ± 10 %, max-pressure: 1.5 bar }`).join('\n')}
fittings:
  - { id: F1, section: line, kind: flare }
holds:
  - { id: h, sections: [line], pressure: 70 kPa, settle: 2 min, hold: 10 min, allow: { drop: 0.7 kPa } }
`

let pressureKPa = 0
/** When pumping ended, [s]; the warmth of it goes, and some pressure with it. */
let pumpedS = Number.POSITIVE_INFINITY
let line = 0
function lines(port: FedPort, seconds: number): void {
  let text = ''
  for (let i = 0; i < Math.round(seconds * rateHz); i++, line++) {
    const atS = line / rateHz
    const noise = ((line * 7919) % 1000) / 1000 - 0.5
    const coolingKPa = atS > pumpedS ? 3 * (1 - Math.exp((pumpedS - atS) / 25)) : 0
    let fields = `p0=${(pressureKPa - coolingKPa + 0.005 * noise).toFixed(4)}`
    for (let other = 1; other < channels - 1; other++)
      fields += `,p${other}=${(5 + noise * other).toFixed(4)}`
    fields += `,p7=${(20 + 0.01 * noise + 0.1 * Math.sin(atS / 3000)).toFixed(3)}`
    text += `logger ${fields} ${port.timeNs(atS)}\n`
    if (text.length > 16_000) {
      port.nowS = atS
      port.say(text)
      text = ''
    }
  }
  port.nowS = line / rateHz
  port.say(text)
}

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms))
const mb = (bytes: number) => Number((bytes / 1e6).toFixed(1))

/** The session's ticks, which take what arrived, come by the clock. */
async function pass(port: FedPort, seconds: number): Promise<void> {
  for (let left = seconds; left > 0; left -= 10) {
    lines(port, Math.min(10, left))
    await pause(rateHz > 100 || left % 120 === 0 ? 12 : 0)
  }
  await pause(250)
}

function memory() {
  collectGarbage()
  const { heapUsed, arrayBuffers, rss } = process.memoryUsage()
  return { heapMb: mb(heapUsed), buffersMb: mb(arrayBuffers), rssMb: mb(rss) }
}

async function timed<T>(act: () => Promise<T>): Promise<{ ms: number; value: T }> {
  const beganMs = performance.now()
  const value = await act()
  return { ms: Math.round(performance.now() - beganMs), value }
}

try {
  const systemPath = join(folder, 'aircraft.yaml')
  writeFileSync(systemPath, systemText)
  const port = new FedPort()
  const said: string[] = []
  const bench = await startBench({
    dataFolder: join(folder, 'data'),
    systemPath,
    ports: [{ port }],
    listen: { host: '127.0.0.1', port: 0 },
    version: '0',
    log: (text) => said.push(text),
  })
  const at = bench.server.port
  const tell = (what: object) => process.stdout.write(`${JSON.stringify(what)}\n`)
  await pass(port, 60)
  for (let hour = 1; hour <= hours; hour++) {
    if (values.marks) await send(at, '/api/mark', { kind: 'look', id: 'F1', fields: { finding: 'dry' } })
    await pass(port, 3600)
    const session = join(folder, 'data', 'session')
    const files = readdirSync(session).filter((name) => name.endsWith('.lp'))
    tell({
      hour,
      ...memory(),
      files: files.length,
      largestMb: mb(Math.max(...files.map((name) => statSync(join(session, name)).size))),
    })
  }
  for (let hold = 1; hold <= Number(values.holds); hold++) {
    const started = await send(at, '/api/hold/start', {
      hold: 'h',
      operator: 'O. P.',
      witness: null,
      stateSheet: [],
      retests: null,
    })
    if (started.status !== 200) throw new Error(started.text)
    for (; pressureKPa < 70; pressureKPa += 7) await pass(port, 5)
    pumpedS = port.nowS
    await send(at, '/api/hold/stage', { stage: 'settle' })
    await pass(port, 120)
    await send(at, '/api/hold/stage', { stage: 'hold' })
    for (let minute = 0; minute < 10; minute++) {
      await pass(port, 60)
      await pause(rateHz > 100 ? 2000 : 500)
    }
    tell({ inHold: hold, ...memory() })
    await send(at, '/api/hold/stage', { stage: 'vent' })
    pressureKPa = 0
    pumpedS = Number.POSITIVE_INFINITY
    await pass(port, 20)
    const sealed = await timed(async () => {
      await send(at, '/api/hold/stage', { stage: 'end' })
      for (;;) {
        const { sealing, last } = bench.session.state()
        if (!sealing) return last
        await pause(50)
      }
    })
    const id = sealed.value!.record
    const open = await timed(() => ask(at, { path: `/api/records/${id}` }))
    const columns = await timed(() => ask(at, { path: `/api/records/${id}/columns?points=2000` }))
    const again = await timed(() => ask(at, { path: `/api/records/${id}/columns?points=2000` }))
    const live = await timed(() => ask(at, { path: '/api/live?points=2000' }))
    const state = await timed(() => ask(at, { path: '/api/state' }))
    tell({
      sealed: id,
      verdict: sealed.value!.result.verdict,
      reasons: sealed.value!.result.reasons.map(({ code }) => code),
      recordingMb: mb(
        statSync(join(folder, 'data', 'recordings', readdirSync(join(folder, 'data', 'recordings')).at(-1)!))
          .size,
      ),
      ms: {
        seal: sealed.ms,
        open: open.ms,
        columns: columns.ms,
        again: again.ms,
        live: live.ms,
        state: state.ms,
      },
      kb: {
        open: open.value.text.length >> 10,
        columns: columns.value.text.length >> 10,
        live: live.value.text.length >> 10,
      },
      status: [open.value.status, columns.value.status, live.value.status],
      ...memory(),
    })
    await pass(port, 120)
  }
  await bench.stop()
  if (said.length > 0) tell({ said: said.slice(-5) })
} finally {
  rmSync(folder, { recursive: true, force: true })
}
