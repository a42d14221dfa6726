import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { connect, createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { BenchProcess } from './bench-process.ts'

/** Eight channels at 1 kHz on one logger over TCP, 20 watchers of which one takes nothing. */
async function load(seconds: number): Promise<Record<string, unknown>> {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-load-'))
  const system = join(folder, 'aircraft.yaml')
  writeFileSync(system, systemText())
  let written = 0
  const source = createServer((socket) => {
    const beganMs = performance.now()
    const timer = setInterval(() => {
      const due = Math.min(seconds * 1000, Math.floor(performance.now() - beganMs))
      let text = ''
      for (; written < due; written++) text += lineOf(written)
      if (text !== '') socket.write(text)
    }, 5)
    socket.on('close', () => clearInterval(timer))
    socket.on('error', () => {})
  })
  await new Promise<void>((resolve) => source.listen(0, '127.0.0.1', resolve))
  const address = source.address() as { port: number }
  const bench = await BenchProcess.start([
    '--tcp',
    `127.0.0.1:${address.port}`,
    '--system',
    system,
    '--data',
    join(folder, 'data'),
  ])
  const delaysMs: number[] = []
  const watchers = Array.from({ length: 20 }, (_, index) => watch(bench.port, index === 0 ? null : delaysMs))
  const rssMb: number[] = []
  try {
    while (written < seconds * 1000) {
      await pause(1000)
      rssMb.push(residentMb(bench.child.pid!))
    }
    await pause(1500)
    const cpuS = cpuSeconds(bench.child.pid!)
    await bench.kill('SIGTERM')
    const session = join(folder, 'data', 'session')
    const kept = readdirSync(session)
      .filter((name) => name.endsWith('.lp'))
      .reduce(
        (sum, name) => sum + (readFileSync(join(session, name), 'utf8').match(/^logger /gm)?.length ?? 0),
        0,
      )
    delaysMs.sort((a, b) => a - b)
    const settled = rssMb.slice(Math.floor(rssMb.length / 4))
    return {
      seconds,
      linesWritten: written,
      linesKept: kept,
      batchesSeen: delaysMs.length,
      delayMs: {
        median: quantile(delaysMs, 0.5),
        p99: quantile(delaysMs, 0.99),
        most: quantile(delaysMs, 1),
      },
      rssMb: { first: rssMb[0], most: Math.max(...rssMb), last: rssMb.at(-1) },
      rssSlopeMbPerMin: Number((slope(settled) * 60).toFixed(2)),
      cpuShare: Number((cpuS / seconds).toFixed(2)),
    }
  } finally {
    await bench.kill()
    for (const socket of watchers) socket.destroy()
    source.close()
    rmSync(folder, { recursive: true, force: true })
  }
}

function systemText(): string {
  const channels = Array.from(
    { length: 8 },
    (_, i) =>
      `  - { id: p${i}, measures: gauge-pressure, section: line, from: { measurement: logger, field: p${i} }, unit: psi, range: 0 psi to 30 psi }`,
  )
  return `stillhold: 1\nname: load\nchannels:\n${channels.join('\n')}\nsections:\n  - { id: line, medium: air, volume: 0.35 L ± 10 %, max-pressure: 15 psi }\n`
}

function lineOf(number: number): string {
  const fields = Array.from(
    { length: 8 },
    (_, i) => `p${i}=${(10 + 0.001 * Math.sin(number + i)).toFixed(5)}`,
  )
  // The time of writing, so that what a watcher sees tells its own delay.
  const timeNs =
    BigInt(Math.round((performance.timeOrigin + performance.now()) * 1000)) * 1000n + BigInt(number % 1000)
  return `logger ${fields.join(',')} ${timeNs}\n`
}

/** One page's stream. With a list it notes how old the newest sample of each batch is; with null it reads nothing. */
function watch(port: number, delaysMs: number[] | null) {
  const socket = connect(port, '127.0.0.1', () => {
    socket.write(`GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\n\r\n`)
    if (delaysMs === null) socket.pause()
  })
  socket.on('error', () => {})
  let text = ''
  let startMs = Number.NaN
  socket.on('data', (chunk) => {
    text += chunk
    const blocks = text.split('\n\n')
    text = blocks.pop() ?? ''
    for (const block of blocks) {
      const data = /^data: (.*)$/m.exec(block)?.[1]
      if (data === undefined) continue
      if (block.includes('event: state'))
        startMs = Number(BigInt(JSON.parse(data).recordingStartNs ?? 0)) / 1e6
      if (!block.includes('event: samples') || !(startMs > 0)) continue
      const newestS = JSON.parse(data).channels.p0?.timeS.at(-1)
      if (newestS !== undefined)
        delaysMs?.push(performance.timeOrigin + performance.now() - startMs - newestS * 1000)
    }
  })
  return socket
}

function residentMb(pid: number): number {
  return Math.round(Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024)
}

function cpuSeconds(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1].split(' ')
  return (Number(fields[11]) + Number(fields[12])) / 100
}

const quantile = (sorted: readonly number[], share: number) =>
  Math.round(sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN)

/** Least-squares slope of values a second apart. */
function slope(values: readonly number[]): number {
  const middle = (values.length - 1) / 2
  let above = 0
  let below = 0
  for (const [i, value] of values.entries()) {
    above += (i - middle) * value
    below += (i - middle) ** 2
  }
  return above / below
}

const pause = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms))

const { values } = parseArgs({ options: { seconds: { type: 'string', default: '600' } } })
process.stdout.write(`${JSON.stringify(await load(Number(values.seconds)))}\n`)
