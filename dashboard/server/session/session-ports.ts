import type { Origin } from '#analysis/model/origin.ts'
import type { Channel } from '#analysis/model/system.ts'
import type { Alarm, PortState } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import type { DialectName } from '#ingest/intake/dialects/dialect.ts'
import { Intake, type IntakeState } from '#ingest/intake/intake.ts'
import type { IntakeMark, IntakeSink } from '#ingest/intake/sink.ts'
import type { Arrival, Port, PortFault, PortListener } from '#ingest/sources/port.ts'
import { type ClockFields, LoggerClock } from './clocks.ts'

export interface SessionPort {
  readonly port: Port
  /** Dialect chosen by the user; absent: detected. */
  readonly dialect?: DialectName | null
  /** Tags added to every point, such as `port=a` where several loggers run. */
  readonly tags?: Readonly<Record<string, string>>
}

export interface PortReceiver extends IntakeSink {
  /** The port's clock jumped (`seconds`) or runs fast (`fast_percent`): the recording needs a mark. */
  clockWrong(fields: ClockFields, timeNs: bigint): void
  /** Whether a channel of the system file maps this field. */
  isTaken?(field: string): boolean
  /** One line for the terminal on a fault of the port. */
  say(line: string): void
  /** The connection ended. */
  closed?(): void
}

/** Silence that is reported, [s]: shorter than the watchdog that opens the port again, longer than a slow logger's step. */
const silentAfterS = 5

/** Tried in turn while a port yields garbage; stopped after the first readable line. */
const usualBaudRates = [115_200, 9600, 57_600, 38_400, 19_200, 230_400, 4800, 2400]

/** One port of the session with its intake and clock check. */
export class BenchPort implements PortListener {
  readonly port: Port
  readonly tags: Readonly<Record<string, string>>
  readonly #intake: Intake
  /** Null when the bench does not run in real time. */
  readonly #clock: LoggerClock | null
  readonly #unread = new UnreadLines()
  /** Rates that yielded garbage; null after the first readable line. */
  #tried: Set<number> | null = new Set()
  #openedNs: bigint | null = null
  #fault: PortFault | null = null
  /** The last fault on the terminal; repeated only after bytes have arrived. */
  #shownFault: string | null = null
  readonly #receiver: PortReceiver

  constructor({ port, dialect, tags }: SessionPort, speed: number, receiver: PortReceiver) {
    this.port = port
    this.tags = tags ?? {}
    this.#clock = speed === 1 ? new LoggerClock(port.name) : null
    this.#receiver = receiver
    const sink: IntakeSink = {
      point: (point, line, arrival) => {
        this.#unread.restart()
        this.#tried = null
        const timeNs = BigInt(point.timeNs!)
        for (const wrong of this.#clock?.update(timeNs, arrival.monotonicNs) ?? [])
          receiver.clockWrong(wrong, timeNs)
        receiver.point(point, line, arrival)
      },
      reject: (reason, bytes, arrival) => {
        this.#unread.refused(reason)
        receiver.reject(reason, bytes, arrival)
      },
      comment: (text, arrival) => receiver.comment(text, arrival),
      mark: (mark: IntakeMark, arrival) => receiver.mark(mark, arrival),
    }
    this.#intake = new Intake({ port: port.name, sink, joinsMidLine: port.joinsMidLine, dialect, tags })
  }

  opened(arrival: Arrival): void {
    this.#openedNs = arrival.monotonicNs
    this.#fault = null
    this.#clock?.reopened()
    this.#intake.opened(arrival)
  }

  bytes(chunk: Uint8Array, arrival: Arrival): void {
    this.#fault = null
    this.#shownFault = null
    this.#intake.bytes(chunk, arrival)
  }

  heard(bytes: Uint8Array): void {
    this.#unread.heard(bytes)
    if (this.#tried !== null && this.#trouble()?.code === 'baud-rate') this.#tryNextRate(this.#tried)
  }

  #tryNextRate(tried: Set<number>): void {
    const { name, baudRate } = this.port
    if (baudRate === undefined) return
    tried.add(baudRate)
    const next = usualBaudRates.find((rate) => !tried.has(rate))
    if (next === undefined) {
      // Back to the requested rate, and the user is notified.
      this.#tried = null
      this.fix({ baudRate: [...tried][0] })
      return
    }
    this.#receiver.say(`${name} sends bytes that are no text at ${baudRate} baud: trying ${next}.`)
    this.fix({ baudRate: next })
  }

  closed(arrival: Arrival): void {
    this.#intake.closed(arrival)
    this.#receiver.closed?.()
  }

  fault(fault: PortFault, arrival: Arrival): void {
    this.#fault = fault
    if (this.#shownFault !== fault.message) this.#receiver.say(fault.message)
    this.#shownFault = fault.message
    this.#intake.fault(fault, arrival)
  }

  confirm(): void {
    this.#intake.confirm()
  }

  /** @throws RequestError when the port has no such setting, or has another number of columns */
  fix({ baudRate, columns }: { readonly baudRate?: number; readonly columns?: readonly string[] }): void {
    if (baudRate !== undefined) {
      if (!this.port.setBaudRate) throw new RequestError(409, `${this.port.name} has no baud rate.`)
      this.port.setBaudRate(baudRate)
      this.#unread.restart()
    }
    if (columns !== undefined && !this.#intake.nameColumns(columns))
      throw new RequestError(
        409,
        `${this.port.name} does not send ${columns.length} columns: name each one once, in their order.`,
      )
  }

  /** Units that the logger writes with its numbers, by field name. */
  units(): ReadonlyMap<string, string> {
    const { quantities } = this.intakeState()
    return new Map(quantities.flatMap(({ name, unit }) => (unit === null ? [] : [[name, unit] as const])))
  }

  state(): PortState {
    return { ...plainPortState(this.intakeState()), trouble: this.#trouble() }
  }

  #trouble(): PortState['trouble'] {
    const { dialect, quantities } = this.intakeState()
    const columns = dialect?.startsWith('csv') ? quantities.map(({ name }) => name) : null
    const { name, baudRate = null } = this.port
    return this.#unread.trouble(
      { name, baudRate },
      columns,
      columns?.some((one) => this.#receiver.isTaken?.(one)) ?? false,
    )
  }

  alarms(): Alarm[] {
    const state = this.intakeState()
    const found: Alarm[] = []
    const nowNs = process.hrtime.bigint()
    const name = this.port.name
    const sinceOpenS = this.#openedNs === null ? 0 : Number(nowNs - this.#openedNs) / 1e9
    const silentS = state.silentS ?? sinceOpenS
    const trouble = this.#trouble()
    if (this.#fault?.code === 'unplugged' || this.#fault?.code === 'open-failed') {
      found.push({ code: 'logger-unplugged', message: this.#fault.message })
    } else if (trouble) {
      found.push({ code: 'logger-unread', message: trouble.message })
    } else if (this.#fault?.code === 'silent' || (state.open && silentS > silentAfterS)) {
      const message = `${name} has sent nothing for ${Math.round(silentS)} s: check the logger’s power and its cable.`
      found.push({ code: 'logger-silent', message })
    }
    for (const message of this.#clock?.messages(nowNs) ?? []) found.push({ code: 'clock-jump', message })
    return found
  }

  intakeState(): IntakeState {
    return this.#intake.state(process.hrtime.bigint())
  }
}

type Trouble = NonNullable<PortState['trouble']>

/** Bytes without a line before the port is judged: a few lines of any logger. */
const judgedAfterBytes = 400
/** Consecutive lines that are not text. */
const garbledLines = 5
/** Above this fraction of non-text bytes the bit rate is wrong. */
const oddPart = 0.1

/** Port data that yield no readings, and their most probable cause. */
class UnreadLines {
  /** Since the last readable line. */
  #bytes = 0
  #odd = 0
  #garbled = 0

  heard(bytes: Uint8Array): void {
    this.#bytes += bytes.length
    for (const byte of bytes) if (!isText(byte)) this.#odd++
  }

  /** A line was refused, with the reason. */
  refused(reason: string): void {
    if (/control characters|UTF-8|too long/.test(reason)) this.#garbled++
  }

  /** A line was read, or another baud rate starts. */
  restart(): void {
    this.#bytes = 0
    this.#odd = 0
    this.#garbled = 0
  }

  /**
   * @param columns names of the columns; null where the logger names its values itself
   * @param taken whether a channel of the system file uses one of them
   */
  trouble(
    { name, baudRate }: { readonly name: string; readonly baudRate: number | null },
    columns: readonly string[] | null,
    taken: boolean,
  ): Trouble | null {
    if (baudRate !== null && (this.#garbled >= garbledLines || this.#bytes > judgedAfterBytes)) {
      const isNoise = this.#garbled >= garbledLines || this.#odd > oddPart * this.#bytes
      return isNoise
        ? {
            code: 'baud-rate',
            baudRate,
            message: `${name} sends bytes that are no text: its baud rate is probably not ${baudRate}.`,
          }
        : {
            code: 'line-ends',
            baudRate,
            message: `${name} sends text without line ends: let the logger end each line with a line feed.`,
          }
    }
    if (columns === null || taken || !columns.every((column, i) => column === `c${i + 1}`)) return null
    return {
      code: 'header',
      columns: columns.length,
      message: `${name} sends ${columns.length} columns without names: its header line was probably missed.`,
    }
  }
}

const isText = (byte: number): boolean =>
  (byte >= 32 && byte < 127) || byte === 9 || byte === 10 || byte === 13

/** Silence that is reported for sources other than ports, [s]: loggers that write over HTTP batch up to ten seconds. */
const otherSilentAfterS = 15

/** Sources of the session's lines: its ports, and others such as loggers that write over HTTP. */
export class SessionPorts {
  readonly #ports: readonly BenchPort[]
  readonly #others: (() => PortState)[] = []
  readonly #changed: () => void

  /** @param changed called when the user changed a port */
  constructor(
    ports: readonly SessionPort[],
    speed: number,
    receiver: (origin: Origin | null) => PortReceiver,
    changed = () => {},
  ) {
    this.#changed = changed
    this.#ports = ports.map((port) => new BenchPort(port, speed, receiver(port.port.origin ?? null)))
  }

  async open(): Promise<void> {
    for (const port of this.#ports) await port.port.open(port)
  }

  async close(): Promise<void> {
    for (const { port } of this.#ports) await port.close()
  }

  addOther(state: () => PortState): void {
    this.#others.push(state)
  }

  /** The user confirms the detected settings. @throws RequestError when there is no such port */
  confirm(name: string): PortState[] {
    this.#named(name).confirm()
    this.#changed()
    return this.list()
  }

  /** @throws RequestError when there is no such port, or it cannot be set like that */
  fix(name: string, setting: Parameters<BenchPort['fix']>[0]): PortState[] {
    this.#named(name).fix(setting)
    this.#changed()
    return this.list()
  }

  #named(name: string): BenchPort {
    const port = this.#ports.find((each) => each.port.name === name)
    if (!port) throw new RequestError(404, `There is no port ${name}.`)
    return port
  }

  /** Unit that a logger writes with the number of a channel; null when it writes none. */
  unitOf({ from }: Pick<Channel, 'from'>): string | null {
    for (const port of this.#ports) {
      const tags = port.tags.port
      if (this.#ports.length > 1 && from.tags.port !== tags) continue
      const unit = port.units().get(from.field)
      if (unit !== undefined) return unit
    }
    return null
  }

  list(): PortState[] {
    const others = this.#others.map((state) => state()).filter(({ lines }) => lines > 0)
    return [...this.#ports.map((port) => port.state()), ...others.map(plainPortState)]
  }

  alarms(): Alarm[] {
    const others = this.#others.flatMap((state) => silenceOf(state()))
    return [...this.#ports.flatMap((port) => port.alarms()), ...others]
  }
}

/** A source that never sent a line is not reported as silent. */
function silenceOf({ name, lines, silentS }: PortState): Alarm[] {
  if (lines === 0 || silentS === null || silentS <= otherSilentAfterS) return []
  const message = `${name} has received nothing for ${Math.round(silentS)} s: check the logger and its network.`
  return [{ code: 'logger-silent', message }]
}

/** The part that is sent to the page. */
function plainPortState(state: PortState): PortState {
  const { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault } = state
  return { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault }
}
