import { existsSync, mkdirSync, rmSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { createInterface } from 'node:readline'
import type { Command } from 'commander'
import type { System } from '#analysis/model/system.ts'
import { isLoopbackHost } from '#dashboard/server/http/own-hosts.ts'
import { startServer } from '#dashboard/server/http/server.ts'
import { writeRoutes } from '#dashboard/server/http/write-routes.ts'
import { writeTokenFrom } from '#dashboard/server/http/write-token.ts'
import { Forwarder } from '#ingest/forward/forwarder.ts'
import { readWriteAddress } from '#ingest/forward/write-address.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import { listSerialPorts } from '#ingest/sources/serial-port.ts'
import { defineCommand, jsonOption, type OptionsOf, runListening, stopSignals } from './command.ts'
import { holdOf, openSystem } from './options.ts'
import { portOptions, readDialect, readPorts } from './record-ports.ts'
import { progressLine, RecordSession, recordResult } from './record-session.ts'
import { readTypedMark, typedMarkHelp } from './typed-mark.ts'

const defaultHttpPort = '8086'
const progressMs = 1000
const quietProgressMs = 30_000

const options = [
  ...portOptions,
  ['--stdin', 'read lines from standard input'],
  ['--http [port]', `take points over HTTP as time-series clients write them (port ${defaultHttpPort})`],
  ['--host <address>', 'where --http listens', { default: '127.0.0.1' }],
  ['--speed <factor>', 'how much faster than real time a replay runs; "max" for no wait', { default: '1' }],
  ['--out <file>', 'recording to write; a name with the time when absent'],
  ['--append', 'continue an existing recording'],
  ['--dialect <name>', 'dialect of the logger, when the detected one is wrong'],
  ['--system <file>', 'system file: shows readings by channel, defines the holds'],
  ['--hold <id>', 'hold that the stage marks belong to'],
  ['--forward <url>', 'mirror every point to a time-series server'],
  jsonOption,
] as const
type RecordOptions = OptionsOf<typeof options>

export const command = defineCommand({
  options,
  help: `While it records, type a mark and Enter:
${typedMarkHelp}

--port list shows the serial ports.
--http clients send the token that is printed at the start, or that of STILLHOLD_WRITE_TOKEN.
The token for --forward is taken from STILLHOLD_FORWARD_TOKEN.`,
  examples: [
    'record --port list',
    'record --port /dev/ttyUSB0 --baud 115200 --hold left-feed-10psi --out left-feed.lp',
    'record --port left=/dev/ttyUSB0 --port right=/dev/ttyACM0 --system floatplane.yaml',
    'record --tcp 192.168.4.1:23 --out bench.lp',
    'record --mqtt mqtt://192.168.4.1 --topic "bench/+" --out bench.lp',
    'record --stdin --out bench.lp        with the lines of a logger piped in',
  ],
  run: (given, own: Command) =>
    runListening(own, () =>
      given.port?.includes('list') === true ? listPorts(given.json === true) : record(given),
    ),
})

async function listPorts(json: boolean): Promise<void> {
  const ports = await listSerialPorts()
  if (json) process.stdout.write(ports.map((port) => `${JSON.stringify(port)}\n`).join(''))
  else if (ports.length === 0) process.stderr.write('No serial port: plug the logger in.\n')
  else
    for (const { path, about } of ports)
      process.stdout.write(about === null ? `${path}\n` : `${path}  ${about}\n`)
}

async function record(options: RecordOptions): Promise<void> {
  // On a terminal the progress line would share the line with the message.
  const clear = process.stderr.isTTY === true ? '\r\x1b[2K' : ''
  const say = (message: string) => process.stderr.write(`${clear}${message}\n`)
  const ports = readPorts(options)
  const dialect = readDialect(options.dialect)
  if (ports.length === 0 && options.http === undefined)
    throw new Error('nothing to read: add --port, --stdin, --tcp, --mqtt, --http or --replay; see --help')
  const described = options.system === undefined ? null : openSystem({ system: options.system })
  if (described && options.hold !== undefined) holdOf(described, options.hold)
  const system = described?.system ?? null
  const out = resolve(options.out ?? `stillhold-${stamp()}.lp`)
  const forwarder = options.forward === undefined ? null : openForwarder(options.forward, out, say)

  if (existsSync(out) && options.append !== true)
    throw new Error(`${out}: already exists; choose another name, or add --append to continue it`)
  mkdirSync(dirname(out), { recursive: true })
  const stop = new Stop()
  let opened = false
  const session = new RecordSession({
    out,
    system,
    forward: forwarder ? (line) => forwarder.push(line) : undefined,
    say: (message) => {
      if (opened) say(message)
    },
    stop: (fault) => stop.now(fault),
  })
  const closers: (() => Promise<void>)[] = []
  try {
    if (options.http !== undefined) {
      const port = options.http === true ? defaultHttpPort : options.http
      closers.push(await openHttp(options.host, port, session, say))
    }
    const finite = ports.filter(({ port }) => port.joinsMidLine !== true)
    const endless = finite.length < ports.length || options.http !== undefined
    let running = finite.length
    for (const { port, tags } of ports) {
      const listener = session.listen({ port, dialect, tags }, () => {
        if (port.joinsMidLine !== true && --running === 0 && !endless) stop.now()
      })
      await port.open(listener)
      closers.push(() => port.close())
    }
    opened = true
    say(`Recording into ${out}. Stop with Ctrl+C${options.stdin ? '' : '; type ? for the marks'}.`)
    await until(stop, session, options, system, say)
  } finally {
    for (const close of closers) await close()
    session.recording.close()
    await forwarder?.close()
    // A port that could not be opened leaves no recording.
    if (!opened && session.recording.points === 0 && options.append !== true) rmSync(out)
  }
  if (stop.fault !== null) throw new Error(stop.fault)
  process.stdout.write(recordResult(out, session, forwarder, options.json === true))
}

/** Waits for the end, meanwhile reads typed marks, keeps planned stages and shows progress. */
async function until(
  stop: Stop,
  session: RecordSession,
  options: RecordOptions,
  system: System | null,
  say: (message: string) => void,
): Promise<void> {
  const typed = options.stdin === true ? null : createInterface({ input: process.stdin })
  typed?.on('line', (line) => {
    if (line.trim() === '') return
    const read = readTypedMark(line, options.hold ?? null)
    if (read.kind === 'quit') stop.now()
    else if (read.kind === 'wrong') say(read.message)
    else {
      session.mark({ ...read.mark, from: 'operator' }, session.clock.nowNs() ?? arrivalNow().wallNs)
      say(`marked: ${Object.values(read.mark.fields).join(' ')}`)
    }
  })
  const onSignal = () => stop.now()
  for (const signal of stopSignals) process.on(signal, onSignal)
  const isTerminal = process.stderr.isTTY === true
  const started = performance.now()
  const progress = setInterval(
    () => {
      const line = progressLine(session, system, (performance.now() - started) / 1000)
      process.stderr.write(isTerminal ? `\r\x1b[2K${line}` : `${line}\n`)
    },
    isTerminal ? progressMs : quietProgressMs,
  )
  try {
    await stop.asked
  } finally {
    clearInterval(progress)
    typed?.close()
    if (options.stdin !== true) process.stdin.unref?.()
    if (isTerminal) process.stderr.write('\n')
    // A second Ctrl+C ends at once: written data stay written.
    for (const signal of stopSignals) process.off(signal, onSignal)
  }
}

/** The first request to end, from any source, including a disk fault. */
class Stop {
  fault: string | null = null
  #end: () => void = () => undefined
  readonly asked = new Promise<void>((done) => {
    this.#end = done
  })

  now(fault: string | null = null): void {
    this.fault ??= fault
    this.#end()
  }
}

/**
 * Accepts points over HTTP for the session, behind the same guard as the bench's page.
 *
 * @returns a function that stops it
 * @throws Error with one plain sentence
 */
async function openHttp(
  host: string,
  portText: string,
  session: RecordSession,
  say: (message: string) => void,
): Promise<() => Promise<void>> {
  const port = Number(portText)
  if (!Number.isInteger(port) || port < 0 || port > 65_535) throw new Error(`--http ${portText}: not a port`)
  const writeToken = writeTokenFrom(process.env)
  const { routes, write } = writeRoutes({
    name: 'http',
    sink: session.receiver({ kind: 'http', name: null, sha256: null }),
    keep: (take) => session.recording.keep(take),
  })
  session.addState((now) => write.state(now))
  const options = { sharing: null, lan: !isLoopbackHost(host), writeToken }
  const server = await startServer(() => routes, options, { host, port })
  say(`Loggers may write to ${server.url}/api/v2/write with the token ${writeToken}`)
  return () => server.stop()
}

function openForwarder(url: string, out: string, notice: (message: string) => void): Forwarder {
  const address = readWriteAddress(url, process.env['STILLHOLD_FORWARD_TOKEN'] ?? null)
  const folder = join(dirname(out), `${basename(out, '.lp')}.queue`)
  return new Forwarder({ address, folder, notice })
}

/** `20260101-093000` in local time: a name for people. */
function stamp(): string {
  const now = new Date()
  const two = (number: number) => String(number).padStart(2, '0')
  const day = `${now.getFullYear()}${two(now.getMonth() + 1)}${two(now.getDate())}`
  return `${day}-${two(now.getHours())}${two(now.getMinutes())}${two(now.getSeconds())}`
}
