import { spawn } from 'node:child_process'
import { copyFileSync, cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import type { Command } from 'commander'
import { renderUnicodeCompact } from 'uqr'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { ownCertificate } from '#dashboard/server/http/own-certificate.ts'
import { isLoopbackHost, ownHosts } from '#dashboard/server/http/own-hosts.ts'
import { packageFolder } from '#dashboard/server/http/package-folder.ts'
import { Sharing } from '#dashboard/server/http/sharing.ts'
import { joinLink } from '#dashboard/server/http/sharing-routes.ts'
import { writeTokenFrom } from '#dashboard/server/http/write-token.ts'
import type { SessionPort } from '#dashboard/server/session/session-ports.ts'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { type Aircraft, aircraftIn, Workshop } from '#dashboard/server/workshop.ts'
import { Forwarder } from '#ingest/forward/forwarder.ts'
import { readWriteAddress } from '#ingest/forward/write-address.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { firstSystemFile, layouts, schemaFile } from '#ingest/system-file/layouts.ts'
import { systemFromFile, systemSchema } from '#ingest/system-file/read-system-file.ts'
import {
  dataOption,
  defineCommand,
  type OptionsOf,
  programVersion,
  runListening,
  stopSignals,
} from './command.ts'
import { dataFolder, systemOption, usualFile } from './options.ts'
import { portOptions, readPorts } from './record-ports.ts'
import { messageInk as pc } from './terminal.ts'

const defaultListen = '127.0.0.1:4780'
const demoSpeed = 15

const options = [
  ['--demo', 'run a simulated bench that tests itself, faster than real time'],
  ...portOptions,
  ['--speed <factor>', `how much faster than real time the demo (${demoSpeed}) or a replay (1) runs`],
  systemOption,
  ['--aircraft <folder>', 'several aircraft: a folder with one system file for each, and their archives'],
  dataOption,
  ['--listen <address:port>', `where the page is served (${defaultListen} when absent)`],
  ['--lan', 'let other devices of the network in, each with a one-time code'],
  ['--tls', 'serve over HTTPS with this machine’s own certificate'],
  ['--forward <url>', 'mirror every point to a time-series server'],
  ['--open', 'open the page in the browser'],
] as const
type ServeOptions = OptionsOf<typeof options>

export const command = defineCommand({
  options,
  help: 'The token for --forward is taken from STILLHOLD_FORWARD_TOKEN.',
  examples: [
    'serve --demo --open',
    'serve --open',
    'serve --port /dev/ttyUSB0 --baud 115200 --system aircraft.yaml',
    'serve --tcp 192.168.1.40:5000 --system aircraft.yaml --lan',
    'serve --port /dev/ttyUSB0 --aircraft workshop',
  ],
  run: (given, own: Command) => runListening(own, () => serve(given)),
})

export const demo = defineCommand({
  options: [
    ['--open', 'open the page in the browser'],
    ['--speed <factor>', `how much faster than real time it runs (${demoSpeed} when absent)`],
    ['--listen <address:port>', `where the page is served (${defaultListen} when absent)`],
    ['--files [folder]', 'instead, write recordings to practice with into a new folder (recordings)'],
  ],
  examples: ['demo --open', 'demo --files'],
  run: ({ files, ...given }, own: Command) =>
    runListening(own, () =>
      files === undefined
        ? serve({ ...given, demo: true })
        : writePractice(files === true ? 'recordings' : files),
    ),
})

/** The recordings of the package, at the path that commands in the documents use. */
function writePractice(folder: string): void {
  if (existsSync(folder)) throw new Error(`${folder}: already exists; name a new folder after --files`)
  try {
    cpSync(join(packageFolder(), 'recordings'), folder, { recursive: true })
  } catch (cause) {
    throw new Error(`${folder}: cannot be written (${(cause as NodeJS.ErrnoException).code})`)
  }
  process.stdout.write(`${folder}\n`)
}

async function serve(options: ServeOptions): Promise<void> {
  const listen = readListen(options.listen, options.lan ?? false)
  if (options.baud && !options.port)
    throw new Error(`--baud ${options.baud.join(' ')}: name the serial port it is for with --port`)
  const speed = readSpeed(options.speed)
  const benchOf = (dataFolder: string, systemPath: string, isDemo: boolean) => {
    const system = systemFromFile(readFileSync(systemPath, 'utf8'), systemPath)
    const demo = isDemo ? new DemoBench({ system, speed: speed ?? demoSpeed }) : null
    return { dataFolder, systemPath, demo, ports: demo ? [{ port: demo }] : portsOf(options, speed) }
  }
  const workshop =
    options.aircraft === undefined
      ? null
      : new Workshop(readWorkshop(options.aircraft, options), (one) => ({
          aircraft: one.id,
          ...benchOf(one.dataFolder, one.systemPath, one.isDemo),
        }))
  const folder = workshop
    ? resolve(options.aircraft!)
    : options.demo
      ? demoFolder(options.data)
      : dataFolder(options.data)
  const systemFile = options.demo ? demoSystem : ownSystem
  const first = workshop
    ? workshop.benchOf(workshop.chosen)
    : benchOf(folder, systemFile(folder, options.system), options.demo ?? false)
  const { demo, systemPath } = first
  const sharing = options.lan ? new Sharing() : null
  const writeToken = demo && !workshop ? null : writeTokenFrom(process.env)
  const say = (line: string) => process.stderr.write(`${line}\n`)
  const forwarder = options.forward ? openForwarder(options.forward, folder, say) : null

  const certificate = options.tls ? ownCertificate(join(folder, 'tls'), ownHosts()) : null
  const bench = await startBench({
    ...first,
    workshop,
    listen: { ...listen, certificate },
    version: programVersion,
    sharing,
    writeToken,
    speed: options.replay ? (speed ?? 1) : 1,
    forward: forwarder ? (line) => forwarder.push(line) : undefined,
    log: say,
  })
  process.stdout.write(`${bench.server.url}\n`)
  say(`System file  ${systemPath}`)
  say(`Archive      ${first.dataFolder}`)
  if (workshop) say(`Aircraft     ${workshop.list().length}, to choose from at ${bench.server.url}/aircraft`)
  if (demo)
    say(pc.yellow(`Demo: a simulated bench, ${demo.speed} times faster than real time. It saves nothing.`))
  if (writeToken) say(`Loggers may write to ${bench.server.url}/api/v2/write with the token ${writeToken}`)
  if (certificate) {
    say(
      'The browser warns once that it does not know the certificate of this machine. Compare SHA-256 first:',
    )
    say(certificate.fingerprint)
  }
  if (sharing) showCodes(sharing, bench, say)
  say('Stop with Ctrl+C.')
  if (options.open) openInBrowser(bench.server.url)
  await untilStopped()
  say('Stopping.')
  await bench.stop()
  await forwarder?.close()
}

function readListen(text: string | undefined, lan: boolean): { host: string; port: number } {
  const match = /^(?:(\[[0-9a-f:]+\]|[\w.-]+):)?(\d{1,5})$/i.exec(text ?? defaultListen)
  const port = Number(match?.[2])
  if (!match || port > 65_535)
    throw new Error(`--listen ${text}: write address:port, such as ${defaultListen}`)
  const named = text === undefined ? undefined : match[1]?.replace(/^\[|\]$/g, '')
  if (named !== undefined && lan === isLoopbackHost(named)) {
    throw new Error(
      lan
        ? `--listen ${text} --lan: other devices cannot reach ${named}; name a network address of this machine, or the port alone`
        : `--listen ${text}: others could connect; add --lan to let them in by code`,
    )
  }
  return { host: named ?? (lan ? '0.0.0.0' : '127.0.0.1'), port }
}

function readSpeed(text: string | undefined): number | undefined {
  if (text === undefined) return undefined
  const speed = Number(text)
  if (!(speed > 0 && speed <= 1000)) throw new Error(`--speed ${text}: a number above 0, up to 1000`)
  return speed
}

function portsOf(options: ServeOptions, speed = 1): SessionPort[] {
  for (const path of options.replay ?? []) if (!existsSync(path)) throw new Error(`${path}: no such file`)
  return readPorts({ ...options, speed: String(speed), wait: true })
}

/** The aircraft of a folder, plus the simulated bench. */
function readWorkshop(folder: string, { system, data, demo }: ServeOptions): Aircraft[] {
  const other = system !== undefined ? '--system' : data !== undefined ? '--data' : demo ? '--demo' : null
  if (other !== null)
    throw new Error(`--aircraft ${folder} names system files and archives: leave out ${other}`)
  const dataFolder = demoFolder(undefined)
  return [
    ...aircraftIn(resolve(folder)),
    { id: 'demo', systemPath: demoSystem(dataFolder, undefined), dataFolder, isDemo: true },
  ]
}

function demoFolder(given: string | undefined): string {
  // Demo data must stay apart from real records: a separate folder, a temporary one by default.
  if (given === undefined) return mkdtempSync(join(tmpdir(), 'stillhold-demo-'))
  return join(resolve(given), 'demo')
}

function demoSystem(folder: string, given: string | undefined): string {
  if (given !== undefined) return readSystemPath(given)
  const path = join(folder, 'floatplane.yaml')
  mkdirSync(folder, { recursive: true })
  if (!existsSync(path)) copyFileSync(join(packageFolder(), 'recordings', 'floatplane.yaml'), path)
  return path
}

/** The given or usual file; else a new one with a generic layout, for a dial gauge read by eye, beside the archive. */
function ownSystem(folder: string, given: string | undefined): string {
  const usual = given ?? process.env.STILLHOLD_SYSTEM ?? (existsSync(usualFile) ? usualFile : undefined)
  if (usual !== undefined) return readSystemPath(usual)
  const path = join(folder, usualFile)
  mkdirSync(folder, { recursive: true })
  if (!existsSync(path)) {
    writeFileDurably(path, firstSystemFile(layouts[0]!, 'my aircraft', 'dial'))
    writeFileDurably(join(folder, schemaFile), `${JSON.stringify(systemSchema, null, 2)}\n`)
    process.stderr.write(
      'No system file is named: a first one of a generic layout is written. Make it yours on the page, under Setup.\n',
    )
  }
  return path
}

function readSystemPath(given: string): string {
  if (!existsSync(given)) throw new Error(`${given}: no such file`)
  if (statSync(given).isDirectory()) throw new Error(`${given}: is a folder; name the system file in it`)
  return resolve(given)
}

function openForwarder(text: string, folder: string, notice: (line: string) => void): Forwarder {
  const queue = join(folder, 'forward')
  mkdirSync(queue, { recursive: true })
  const address = readWriteAddress(text, process.env.STILLHOLD_FORWARD_TOKEN ?? null)
  return new Forwarder({ address, folder: queue, notice })
}

function showCodes(sharing: Sharing, bench: RunningBench, say: (line: string) => void): void {
  const show = (role: 'viewer' | 'operator') => {
    const link = joinLink(sharing, role, {
      port: bench.server.port,
      scheme: new URL(bench.server.url).protocol.slice(0, -1),
    })
    say(
      `\n${role === 'operator' ? 'To operate the bench' : 'To watch'}: ${pc.bold(sharing.code(role))} (one device)`,
    )
    say(
      link
        ? `${link}\n${renderUnicodeCompact(link, { border: 2 })}`
        : 'This machine has no network address now.',
    )
  }
  show('viewer')
  show('operator')
  sharing.onNewCode = (role) => {
    say(`\nA device joined as ${role}.`)
    show(role)
  }
}

function untilStopped(): Promise<void> {
  return new Promise((done) => {
    const stop = () => {
      // A second Ctrl+C ends at once: the recording is safe in both cases.
      process.once('SIGINT', () => process.exit(130))
      done()
    }
    for (const signal of stopSignals) process.once(signal, stop)
  })
}

/** Opens an address in the user's browser; without one, the printed address must suffice. */
function openInBrowser(url: string): void {
  const [command, ...args] =
    process.platform === 'darwin'
      ? ['open', url]
      : process.platform === 'win32'
        ? ['rundll32', 'url.dll,FileProtocolHandler', url]
        : ['xdg-open', url]
  const child = spawn(command, args, { stdio: 'ignore', detached: true })
  child.on('error', () => {})
  child.unref()
}
