import { isUtf8 } from 'node:buffer'
import { type Point, seriesOf } from '#ingest/line-protocol/point.ts'
import { markMeasurement } from '#ingest/recording/mark-from-point.ts'
import { unescapeBytes } from '#ingest/recording/rejected-line.ts'
import { isWholeLine } from '#ingest/recording/whole-line.ts'
import type { Arrival, PortFault, PortListener } from '#ingest/sources/port.ts'
import { IntakeClock } from './clock.ts'
import { LineReader, sequenceNumber } from './dialect.ts'
import { isBootBanner } from './dialects/boot-banner.ts'
import type { DialectName, DialectQuantity } from './dialects/dialect.ts'
import { LineSplitter } from './lines.ts'
import type { LineReading } from './repeated-lines.ts'
import { SequenceWatch } from './sequence.ts'
import type { IntakeSink } from './sink.ts'

export interface IntakeOptions {
  /** Name of the port, written into its marks. */
  readonly port: string
  readonly sink: IntakeSink
  /** The first line after each opening may be the tail of a line. */
  readonly joinsMidLine?: boolean
  /** Dialect chosen by the user; null or absent: detected. */
  readonly dialect?: DialectName | null
  /** Tags added to every point that lacks the key, such as `port=a` where several loggers run. */
  readonly tags?: Readonly<Record<string, string>>
}

export interface IntakeState {
  readonly name: string
  readonly open: boolean
  /** Detected dialect with columns and units, for the user to confirm; null before detection. */
  readonly dialect: string | null
  readonly confirmed: boolean
  /** Names and units from the logger. */
  readonly quantities: readonly DialectQuantity[]
  readonly lines: number
  readonly rejected: number
  readonly missing: number
  /** How often the logger restarted in mid-stream. */
  readonly resets: number
  /** Seconds since the last byte; null before the first. */
  readonly silentS: number | null
  readonly fault: string | null
}

interface Line {
  readonly text: string
  readonly bytes: () => Uint8Array
  readonly arrival: Arrival
}

/**
 * Lines that may wait for dialect detection. Up to this number, each new line triggers a try. Afterwards a try runs
 * after this many more lines, and the oldest are discarded: endless garbage must not cost one try per line.
 */
const mostUndecided = 24

/**
 * Converts the bytes of a port into points and keeps everything else as evidence. Every line becomes exactly one of:
 * point, comment, rejected bytes. No input from a logger throws.
 */
export class Intake implements PortListener {
  readonly #options: IntakeOptions
  readonly #sink: IntakeSink
  readonly #splitter: LineSplitter
  readonly #clock = new IntakeClock()
  readonly #sequence = new SequenceWatch()
  #reader: LineReader
  #undecided: Line[] = []
  /** First line after opening, held until the next one shows whether it was whole. */
  #first: { readonly line: Line; readonly reading: LineReading } | null = null
  #expectFirst = false
  #arrival: Arrival = { wallNs: 0n, monotonicNs: 0n }
  #open = false
  #closedAt: Arrival | null = null
  #confirmed: boolean
  /** The last line, for columns that are named late. */
  #newest = ''
  #lines = 0
  #rejected = 0
  #resets = 0
  #pointsSinceReset = 0
  #lastByteNs: bigint | null = null
  #fault: string | null = null

  constructor(options: IntakeOptions) {
    this.#options = options
    this.#sink = options.sink
    this.#confirmed = options.dialect != null
    this.#reader = new LineReader(options.dialect ?? null, options.tags ?? {})
    this.#splitter = new LineSplitter({
      line: (text, bytes) => this.#line(text, bytes),
      tooLong: (piece, first) => {
        if (first) {
          const message = `${options.port} sent a line of more than 64 kB: check the baud rate and that lines end in a line feed`
          this.fault({ code: 'line-too-long', message }, this.#arrival)
        }
        this.#reject('line too long', piece, this.#arrival)
      },
    })
  }

  opened(arrival: Arrival): void {
    this.#arrival = arrival
    this.#open = true
    this.#fault = null
    this.#expectFirst = this.#options.joinsMidLine === true
    if (this.#closedAt === null) return
    const seconds = Number(arrival.monotonicNs - this.#closedAt.monotonicNs) / 1e9
    const text = `nothing came from ${this.#options.port} for ${seconds.toFixed(1)} s`
    this.#mark('gap', { port: this.#options.port, seconds, text }, arrival)
  }

  bytes(chunk: Uint8Array, arrival: Arrival): void {
    this.#arrival = arrival
    this.#lastByteNs = arrival.monotonicNs
    if (this.#fault !== null) this.#fault = null
    this.#splitter.push(chunk)
  }

  closed(arrival: Arrival): void {
    this.#arrival = arrival
    const half = Buffer.from(this.#splitter.takeHalf())
    // A point whose timestamp has all its digits is whole, even without its line end.
    const isWhole = isUtf8(half) && isWholeLine(half.toString())
    if (isWhole && half.length > 0) this.#splitter.push(Buffer.concat([half, Buffer.from('\n')]))
    this.#decide(true)
    this.#settleFirst(null)
    if (!isWhole && half.length > 0) this.#reject('half line at the end of the connection', half, arrival)
    this.#open = false
    this.#closedAt = arrival
  }

  fault(fault: PortFault, arrival: Arrival): void {
    this.#fault = fault.message
    this.#mark('fault', { code: fault.code, port: this.#options.port, text: fault.message }, arrival)
  }

  /** The user confirms the dialect or chooses another; earlier lines stay as they were read. */
  confirm(dialect: DialectName | null = null): void {
    if (dialect !== null && dialect !== this.#reader.name)
      this.#reader = new LineReader(
        dialect,
        this.#options.tags ?? {},
        this.#undecided.map(({ text }) => text),
      )
    this.#confirmed = true
  }

  /** The user names the columns of a logger whose header was missed. False when the count differs. */
  nameColumns(names: readonly string[]): boolean {
    const { name } = this.#reader
    if (name !== 'csv' && name !== 'csv-decimal-comma') return false
    for (const separator of [',', ';', '\t', ' ']) {
      const held = [names.join(separator), this.#newest, this.#newest]
      const reader = new LineReader(name, this.#options.tags ?? {}, held)
      if (!reader.decide(true) || reader.quantities.some((one, i) => names[i] !== one.name)) continue
      if (reader.quantities.length !== names.length) continue
      this.#reader = reader
      this.#confirmed = true
      const text = `the operator named the columns of ${this.#options.port}: ${names.join(', ')}`
      this.#mark('note', { port: this.#options.port, text }, this.#arrival)
      return true
    }
    return false
  }

  state(monotonicNs: bigint): IntakeState {
    return {
      name: this.#options.port,
      open: this.#open,
      dialect: this.#reader.describe(),
      confirmed: this.#confirmed,
      quantities: this.#reader.quantities,
      lines: this.#lines,
      rejected: this.#rejected,
      missing: this.#sequence.missing,
      resets: this.#resets,
      silentS: this.#lastByteNs === null ? null : Number(monotonicNs - this.#lastByteNs) / 1e9,
      fault: this.#fault,
    }
  }

  #line(text: string | null, bytes: () => Uint8Array): void {
    const arrival = this.#arrival
    if (text === '') return
    this.#lines++
    if (text === null) {
      this.#expectFirst = false
      this.#reject('control characters or not UTF-8', bytes(), arrival)
      return
    }
    if (text.charCodeAt(0) === 35) {
      this.#expectFirst = false
      this.#comment(text, arrival)
      return
    }
    if (!this.#reader.decided) {
      this.#undecided.push({ text, bytes, arrival })
      this.#reader.hold(text)
      this.#decide(false)
      return
    }
    this.#read({ text, bytes, arrival })
  }

  #comment(text: string, arrival: Arrival): void {
    const [, reason, bytes = ''] = /^#! (.*?): (.*)$/.exec(text) ?? []
    // A replayed recording contains the lines rejected when it was made: they stay rejected.
    if (reason !== undefined) this.#reject(reason, unescapeBytes(bytes), arrival)
    else {
      if (isBootBanner(text)) this.#reset('it printed its boot message', arrival)
      this.#sink.comment(text, arrival)
    }
  }

  /** Tries to detect the dialect from the held lines; `final`: no more lines will come. */
  #decide(final: boolean): void {
    if (this.#reader.decided || this.#undecided.length === 0) return
    if (!final && this.#undecided.length > mostUndecided && this.#undecided.length < 2 * mostUndecided) return
    if (this.#reader.decide(final)) {
      const held = this.#undecided
      this.#undecided = []
      for (const line of held) this.#read(line)
      if (this.#reader.name === 'line-protocol') return
      const { port } = this.#options
      const text = [`${port} sends ${this.#reader.describe()}`, this.#reader.doubt].filter(Boolean).join('; ')
      this.#mark('note', { port, text }, this.#arrival)
      return
    }
    const giveUp = final ? this.#undecided.length : Math.max(0, this.#undecided.length - mostUndecided)
    this.#reader.giveUp(giveUp)
    for (const line of this.#undecided.splice(0, giveUp)) {
      if (isBootBanner(line.text)) this.#reset('it printed its boot message', line.arrival)
      this.#reject('no dialect known', line.bytes(), line.arrival)
    }
  }

  #read(line: Line): void {
    this.#newest = line.text
    const outcome = this.#reader.read(line.text)
    if (outcome.kind === 'reading') {
      const mayBeCut = this.#expectFirst && !isMark(outcome.reading.point)
      this.#expectFirst = false
      if (mayBeCut) {
        this.#first = { line, reading: outcome.reading }
        return
      }
      if (this.#first !== null) this.#settleFirst(outcome.reading)
      this.#accept(outcome.reading, line.arrival)
      return
    }
    this.#expectFirst = false
    if (outcome.kind === 'header') {
      this.#reset('it printed its header again', line.arrival)
      this.#sink.comment(`# ${line.text}`, line.arrival)
      return
    }
    if (isBootBanner(line.text)) this.#reset('it printed its boot message', line.arrival)
    this.#reject(outcome.reason, line.bytes(), line.arrival)
  }

  /** The first line after opening counts only when the next has the same names; a tail lacks the first name. */
  #settleFirst(next: LineReading | null): void {
    const first = this.#first
    this.#first = null
    if (first === null) return
    if (next !== null && this.#reader.sameShape(first.reading, next))
      this.#accept(first.reading, first.line.arrival)
    else this.#reject('first line after opening, may be cut', first.line.bytes(), first.line.arrival)
  }

  #accept(reading: LineReading, arrival: Arrival): void {
    const { point, text } = reading
    const { measurement, tags, fields, timeNs: own } = point
    if (own !== null && this.#clock.lostDigits(own)) {
      this.#reject('its time has lost digits', Buffer.from(text), arrival)
      return
    }
    const stamp = this.#clock.stamp(own, arrival)
    const number = sequenceNumber(point)
    if (number !== null && this.#sequence.next(seriesOf(point), number).reset)
      this.#reset('its line numbers began again', arrival)
    this.#pointsSinceReset++
    if (own === null)
      this.#sink.point({ measurement, tags, fields, timeNs: stamp }, `${text} ${stamp}`, arrival)
    else this.#sink.point(point, text, arrival)
  }

  #reset(how: string, arrival: Arrival): void {
    if (this.#pointsSinceReset === 0) return
    this.#pointsSinceReset = 0
    this.#resets++
    const text = `the logger on ${this.#options.port} restarted: ${how}`
    this.#mark('fault', { code: 'logger-reset', port: this.#options.port, text }, arrival)
  }

  #reject(reason: string, bytes: Uint8Array, arrival: Arrival): void {
    this.#rejected++
    this.#sink.reject(reason, bytes, arrival)
  }

  #mark(kind: 'fault' | 'gap' | 'note', fields: Record<string, string | number>, arrival: Arrival): void {
    this.#sink.mark({ kind, timeNs: this.#clock.at(arrival), fields }, arrival)
  }
}

/** No other line has a tail that begins like a mark. */
function isMark(point: Point): boolean {
  return point.measurement === markMeasurement && 'kind' in point.tags
}
