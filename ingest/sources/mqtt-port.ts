import { type Socket, connect as tcpConnect } from 'node:net'
import { connect as tlsConnect } from 'node:tls'
import { type Connection, type ConnectionEvents, keepOpen, socketConnection } from './keep-open.ts'
import type { Port } from './port.ts'

export interface MqttPortOptions {
  /** `mqtt://host:1883` or `mqtts://host:8883`, with user and password where the broker asks for them. */
  readonly url: URL
  /** Filter, such as `bench/+`. */
  readonly topic: string
  readonly silenceS?: number
  readonly waitForDevice?: boolean
}

const keepAliveS = 30
/** Longest accepted message: readings are shorter, [bytes]. */
const longestMessage = 1 << 20

const kinds = {
  connect: 1,
  accepted: 2,
  publish: 3,
  subscribe: 8,
  subscribed: 9,
  ping: 12,
  disconnect: 14,
} as const

/**
 * Wi-Fi sensors that publish to a broker: subscribes at quality of service 0 and passes each message on as a line. A
 * bare number is named after the last part of its topic: `bench/p1` and `10.02` is the line `p1=10.02`.
 *
 * *Source* OASIS MQTT 3.1.1, sections 2 and 3.
 */
export function mqttPort({ url, topic, silenceS, waitForDevice }: MqttPortOptions): Port {
  const address = `${url.host} ${topic}`
  return keepOpen({
    name: `mqtt ${address}`,
    origin: { kind: 'mqtt', name: address, sha256: null },
    silenceS,
    waitForDevice,
    connect: (events) => subscribe(url, topic, events),
  })
}

function subscribe(url: URL, topic: string, events: ConnectionEvents): Promise<Connection> {
  const host = url.hostname.replace(/^\[|\]$/g, '')
  const isSecure = url.protocol === 'mqtts:'
  const port = Number(url.port) || (isSecure ? 8883 : 1883)
  const socket: Socket = isSecure ? tlsConnect({ host, port, servername: host }) : tcpConnect({ host, port })
  const fail = (cause: string) => void socket.destroy(new Error(cause))
  const send = (kind: keyof typeof kinds, ...parts: Buffer[]) =>
    socket.write(framed((kinds[kind] << 4) | (kind === 'subscribe' ? 2 : 0), Buffer.concat(parts)))
  let ping: NodeJS.Timeout | undefined
  let waiting: Buffer = Buffer.alloc(0)
  const refusal = (cause: string) =>
    `mqtt ${url.host}: cannot connect to a broker there (${cause}); check address, topic and password`
  socket.once(isSecure ? 'secureConnect' : 'connect', () => send('connect', ...greeting(url)))
  socket.on('close', () => clearInterval(ping))
  return socketConnection(socket, events, refusal, (open) =>
    socket.on('data', (chunk) => {
      waiting = Buffer.concat([waiting, chunk])
      for (let packet = takePacket(waiting); packet !== null; packet = takePacket(waiting)) {
        if (packet === 'broken') return fail('its answer is not MQTT 3.1.1')
        waiting = waiting.subarray(packet.bytes)
        const { kind, flags, body } = packet
        if (kind === kinds.publish) events.bytes(lineOf(flags, body))
        else if (kind === kinds.accepted) {
          if (body[1] !== 0) return fail(refusals[body[1] ?? 0] ?? 'it refused')
          send('subscribe', Buffer.from([0, 1]), text(topic), Buffer.from([0]))
        } else if (kind === kinds.subscribed) {
          if (body[2] === 0x80) return fail(`it refuses the topic ${topic}`)
          ping = setInterval(() => send('ping'), (keepAliveS * 1000) / 2)
          open(() => {
            send('disconnect')
            socket.end()
            setTimeout(() => socket.destroy(), 1000).unref()
          })
        }
      }
    }),
  )
}

const refusals: readonly (string | undefined)[] = [
  undefined,
  'it has another protocol version',
  'it refuses the client identifier',
  'it is unavailable',
  'wrong user or password',
  'not authorized',
]

/** Content of the first packet: client identifier, user and password. */
function greeting(url: URL): Buffer[] {
  const user = decodeURIComponent(url.username)
  const password = decodeURIComponent(url.password)
  const flags = 2 | (user === '' ? 0 : 0x80) | (password === '' ? 0 : 0x40)
  const parts = [
    text('MQTT'),
    Buffer.from([4, flags, 0, keepAliveS]),
    text(`stillhold-${process.pid}-${Math.floor(performance.now())}`),
  ]
  if (user !== '') parts.push(text(user))
  if (password !== '') parts.push(text(password))
  return parts
}

/** Text with a two-byte length prefix. */
function text(value: string): Buffer {
  const bytes = Buffer.from(value)
  const length = Buffer.alloc(2)
  length.writeUInt16BE(bytes.length)
  return Buffer.concat([length, bytes])
}

/** A packet: kind and flags, the length in seven bits per byte, the rest. */
function framed(head: number, body: Buffer): Buffer {
  const length: number[] = []
  let left = body.length
  do {
    length.push((left & 0x7f) | (left > 0x7f ? 0x80 : 0))
    left >>= 7
  } while (left > 0)
  return Buffer.concat([Buffer.from([head, ...length]), body])
}

interface Packet {
  readonly kind: number
  readonly flags: number
  readonly body: Buffer
  /** Length of the whole packet, [bytes]. */
  readonly bytes: number
}

/** The first packet of the received bytes; null while incomplete. */
function takePacket(bytes: Buffer): Packet | null | 'broken' {
  let length = 0
  const [head = 0] = bytes
  for (let i = 0; i < 4; i++) {
    const digit = bytes[1 + i]
    if (digit === undefined) return null
    length |= (digit & 0x7f) << (7 * i)
    if (digit & 0x80) continue
    if (length > longestMessage) return 'broken'
    const from = 2 + i
    if (bytes.length < from + length) return null
    return {
      kind: head >> 4,
      flags: head & 15,
      body: bytes.subarray(from, from + length),
      bytes: from + length,
    }
  }
  return 'broken'
}

/** A message as the lines of a logger; a multi-line message, such as JSON, becomes one line. */
function lineOf(flags: number, body: Buffer): Buffer {
  const topicEnd = 2 + (body.length < 2 ? 0 : body.readUInt16BE(0))
  const topic = body.toString('utf8', 2, topicEnd)
  const message = body.toString('utf8', topicEnd + (flags & 6 ? 2 : 0)).trim()
  const isNumber = /^[+-]?[\d.]+(?:e[+-]?\d+)?$/i.test(message)
  const name = topic.replace(/^.*[/]/s, '').replace(/[^\w.-]/g, '_')
  const line =
    isNumber && name !== ''
      ? `${name}=${message}`
      : message.startsWith('{')
        ? message.replace(/\s*\n\s*/g, ' ')
        : message
  return Buffer.from(`${line}\n`)
}

/** @throws Error with one plain sentence */
export function readMqttUrl(text: string): URL {
  const url = URL.canParse(text) ? new URL(text) : null
  if (url !== null && (url.protocol === 'mqtt:' || url.protocol === 'mqtts:') && url.hostname !== '')
    return url
  throw new Error(`--mqtt ${text}: write it like mqtt://192.168.4.1:1883`)
}
