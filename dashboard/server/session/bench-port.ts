import type { Alarm, PortState } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import type { DialectName } from '#ingest/intake/dialects/dialect.ts'
import { Intake } from '#ingest/intake/intake.ts'
import type { IntakeMark, IntakeSink } from '#ingest/intake/sink.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import type { Arrival, Port, PortFault, PortListener } from '#ingest/sources/port.ts'
import { ClockJumps } from './clock-jumps.ts'
import { ClockRate } from './clock-rate.ts'
import { UnreadLines } from './unread-lines.ts'

export interface SessionPort {
  readonly port: Port
  /** The user's word on the dialect; absent: detected. */
  readonly dialect?: DialectName | null
  /** Tags put on every point, such as `port=a` where several loggers run. */
  readonly tags?: Readonly<Record<string, string>>
}

export type ClockFields = Readonly<Record<string, string | number>>

/** What the session does with what a port delivers. */
export interface PortReceiver extends IntakeSink {
  /** The port's clock jumped (`seconds`) or runs fast (`fast_percent`): a mark of it belongs into the recording. */
  clockWrong(fields: ClockFields, timeNs: bigint): void
  /** Whether a channel of the system file uses this field. */
  isTaken?(field: string): boolean
  /** One line for the terminal: what is wrong with the port. */
  say(line: string): void
}

/** Silence that is told, [s]: shorter than the watchdog that opens the port again, longer than a slow logger's step. */
const silentAfterS = 5

/** One port of the session with its intake and the watch over its clock. */
export class BenchPort implements PortListener {
  readonly port: Port
  readonly tags: Readonly<Record<string, string>>
  readonly #intake: Intake
  readonly #jumps: ClockJumps
  readonly #rate = new ClockRate()
  readonly #unread = new UnreadLines()
  readonly #isTaken: (field: string) => boolean
  readonly #watchesClock: boolean
  #openedNs: bigint | null = null
  #fault: PortFault | null = null
  /** The fault said last on the terminal; the same is said again only after bytes have come. */
  #said: string | null = null
  readonly #say: (line: string) => void

  constructor({ port, dialect, tags }: SessionPort, speed: number, receiver: PortReceiver) {
    this.port = port
    this.tags = tags ?? {}
    this.#jumps = new ClockJumps(speed)
    this.#say = (line) => receiver.say(line)
    this.#isTaken = (field) => receiver.isTaken?.(field) ?? false
    this.#watchesClock = speed === 1
    const sink: IntakeSink = {
      point: (point, line, arrival) => {
        this.#unread.restart()
        this.#watchClock(point, arrival, receiver)
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
    this.#jumps.reopened()
    this.#rate.restart()
    this.#intake.opened(arrival)
  }

  bytes(chunk: Uint8Array, arrival: Arrival): void {
    this.#fault = null
    this.#said = null
    this.#intake.bytes(chunk, arrival)
  }

  heard(bytes: Uint8Array): void {
    this.#unread.heard(bytes)
  }

  closed(arrival: Arrival): void {
    this.#intake.closed(arrival)
  }

  fault(fault: PortFault, arrival: Arrival): void {
    this.#fault = fault
    if (this.#said !== fault.message) this.#say(fault.message)
    this.#said = fault.message
    this.#intake.fault(fault, arrival)
  }

  confirm(): void {
    this.#intake.confirm()
  }

  /** @throws RequestError when the port has no such setting, or has another count of columns */
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

  /** Units that the logger writes beside its numbers, by the names of these. */
  units(): ReadonlyMap<string, string> {
    const { quantities } = this.#state()
    return new Map(quantities.flatMap(({ name, unit }) => (unit === null ? [] : [[name, unit] as const])))
  }

  state(): PortState {
    const { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault } = this.#state()
    return {
      name,
      open,
      dialect,
      confirmed,
      lines,
      rejected,
      missing,
      silentS,
      fault,
      trouble: this.#trouble(),
    }
  }

  #trouble(): PortState['trouble'] {
    const { dialect, quantities } = this.#state()
    const columns = dialect?.startsWith('csv') ? quantities.map(({ name }) => name) : null
    const { name, baudRate = null } = this.port
    return this.#unread.trouble(
      { name, baudRate },
      columns,
      columns?.some((one) => this.#isTaken(one)) ?? false,
    )
  }

  alarms(): Alarm[] {
    const state = this.#state()
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
    const jumpS = this.#jumps.recent(nowNs)
    if (jumpS !== null) found.push({ code: 'clock-jump', message: jumpMessage(name, jumpS) })
    const { percent } = this.#rate
    if (percent !== null) found.push({ code: 'clock-jump', message: fastMessage(name, percent) })
    return found
  }

  #state() {
    return this.#intake.state(process.hrtime.bigint())
  }

  #watchClock(point: Point, arrival: Arrival, receiver: PortReceiver): void {
    if (!this.#watchesClock || point.timeNs === null) return
    const timeNs = BigInt(point.timeNs)
    const seconds = this.#jumps.update(timeNs, arrival.monotonicNs)
    const port = this.port.name
    if (seconds !== null) {
      this.#rate.restart()
      receiver.clockWrong({ port, seconds, text: jumpMessage(port, seconds) }, timeNs)
    }
    const percent = this.#rate.update(timeNs, arrival.monotonicNs)
    if (percent !== null)
      receiver.clockWrong({ port, fast_percent: percent, text: fastMessage(port, percent) }, timeNs)
  }
}

export function jumpMessage(port: string, seconds: number): string {
  const way = seconds > 0 ? 'forward' : 'back'
  return `The clock of ${port} jumped ${way} by ${Math.abs(seconds).toFixed(1)} s: a hold that was running proves nothing.`
}

function fastMessage(port: string, percent: number): string {
  return `The clock of ${port} runs ${percent.toFixed(0)} % fast: a hold is shorter than its readings say and proves nothing. Set the logger’s clock frequency right.`
}
