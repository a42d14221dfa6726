import { type DialectName, dialectNames } from '#ingest/intake/dialects/dialect.ts'
import { mqttPort, readMqttUrl } from '#ingest/sources/mqtt-port.ts'
import type { Port } from '#ingest/sources/port.ts'
import { replayPort } from '#ingest/sources/replay-port.ts'
import { serialPort } from '#ingest/sources/serial-port.ts'
import { standardInput } from '#ingest/sources/standard-input.ts'
import { tcpPort } from '#ingest/sources/tcp-port.ts'
import { many, type OptionsOf } from './command.ts'

/** The loggers of `serve` and `record`. */
export const portOptions = [
  ['--port <device>', 'serial port of a logger, or name=port; may be given again', many],
  ['--baud <rate>', 'rate of the ports, once for all or in their order (115200 when absent)', many],
  ['--tcp <host:port>', 'logger that serves its lines over TCP; may be given again', many],
  ['--mqtt <url>', 'broker that sensors publish to, such as mqtt://192.168.4.1'],
  ['--topic <filter>', 'topics to read from it, such as bench/+; may be given again', many],
  ['--replay <file>', 'replay a recording as if its logger sent it now', many],
] as const

interface PortOptions extends OptionsOf<typeof portOptions> {
  readonly stdin?: boolean
  readonly speed: string
  readonly wait?: boolean
}

export interface TaggedPort {
  readonly port: Port
  readonly tags: Readonly<Record<string, string>>
}

/**
 * The ports named by an option line. Several loggers get the tag `port`: their own name (`left=/dev/ttyUSB0`) or a
 * letter in the order given.
 *
 * @throws Error with one plain sentence
 */
export function readPorts(options: PortOptions): TaggedPort[] {
  const speed = options.speed === 'max' ? Number.POSITIVE_INFINITY : readNumber('--speed', options.speed)
  const waitForDevice = options.wait
  const { port: serial = [], baud = [], tcp = [], replay = [] } = options
  if (baud.length > Math.max(1, serial.length)) throw new Error('--baud is given more often than --port')
  const made = [
    ...serial.map((text, i) => {
      const { name, address } = named(text)
      const baudRate = readNumber('--baud', baud[i] ?? baud.at(-1) ?? '115200')
      if (!Number.isInteger(baudRate)) throw new Error(`--baud ${baudRate}: not a rate`)
      return { name, port: serialPort({ path: address, baudRate, waitForDevice }) }
    }),
    ...tcp.map((text) => {
      const { name, address } = named(text)
      const [, host, port] = /^(\[[0-9a-f:]+\]|[^:]+):(\d{1,5})$/i.exec(address) ?? []
      if (host === undefined || Number(port) > 65_535) throw new Error(`--tcp ${text}: write host:port`)
      const plain = host.replace(/^\[|\]$/g, '')
      return { name, port: tcpPort({ host: plain, port: Number(port), waitForDevice }) }
    }),
    ...mqttPorts(options, { waitForDevice }).map((port) => ({ name: null, port })),
    ...replay.map((path) => ({ name: null, port: replayPort({ path, speed }) })),
    ...(options.stdin ? [{ name: null, port: standardInput() }] : []),
  ]
  const loggers = serial.length + tcp.length
  return made.map(({ name, port }, i): TaggedPort => {
    const letter = loggers > 1 && i < loggers ? String.fromCharCode(97 + (i % 26)) : null
    const tag = name ?? letter
    return { port, tags: tag === null ? {} : { port: tag } }
  })
}

/** A broker's topics, one port each. @throws Error with one plain sentence */
export function mqttPorts(
  { mqtt, topic = [] }: Pick<PortOptions, 'mqtt' | 'topic'>,
  more: { readonly waitForDevice?: boolean },
): Port[] {
  if (mqtt === undefined && topic.length > 0) throw new Error('--topic belongs to --mqtt URL')
  if (mqtt === undefined) return []
  if (topic.length === 0) throw new Error(`--mqtt ${mqtt}: add --topic, such as --topic "bench/+"`)
  const url = readMqttUrl(mqtt)
  return topic.map((one) => mqttPort({ url, topic: one, ...more }))
}

export function readDialect(text: string | undefined): DialectName | null {
  if (text === undefined) return null
  const dialect = dialectNames.find((name) => name === text)
  if (dialect === undefined) throw new Error(`--dialect ${text}: must be one of ${dialectNames.join(', ')}`)
  return dialect
}

/** `left=/dev/ttyUSB0`: a name before the address. */
function named(text: string): { name: string | null; address: string } {
  const [, name = null, address = text] = /^([A-Za-z][\w-]*)=(.+)$/.exec(text) ?? []
  return { name, address }
}

function readNumber(option: string, text: string): number {
  const value = Number(text)
  if (!(value > 0 && Number.isFinite(value))) throw new Error(`${option} ${text}: must be a number above 0`)
  return value
}
