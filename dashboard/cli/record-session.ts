import type { Origin } from '#analysis/model/origin.ts'
import type { System } from '#analysis/model/system.ts'
import { LoggerClock } from '#dashboard/server/session/clocks.ts'
import { PointChannels } from '#dashboard/server/session/point-channels.ts'
import { OriginMarks } from '#dashboard/server/session/session-marks.ts'
import type { Forwarder } from '#ingest/forward/forwarder.ts'
import type { DialectName } from '#ingest/intake/dialects/dialect.ts'
import { Intake, type IntakeState } from '#ingest/intake/intake.ts'
import type { IntakeSink } from '#ingest/intake/sink.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { loggersOwn, markMeasurement } from '#ingest/recording/mark-from-point.ts'
import type { MarkToWrite, RecordingWriter } from '#ingest/recording/recording-writer.ts'
import type { Arrival, Port } from '#ingest/sources/port.ts'
import type { PlannedStage } from './planned-stages.ts'
import { stageMark, type TypedMark } from './typed-mark.ts'

export interface RecordSessionOptions {
  readonly recording: RecordingWriter
  readonly system: System | null
  readonly forwarder: Forwarder | null
  /** Hold id for stage marks. */
  readonly hold: string | null
  readonly planned: readonly PlannedStage[]
  /** One line for the user. */
  readonly say: (message: string) => void
  /** The planned stages are finished. */
  readonly finished: () => void
}

/** Tolerance within which the logger's clock counts as this computer's, [ns]. */
const sameClockNs = 60_000_000_000n

/** Ports → recording, with marks: the session of `record`. */
export class RecordSession {
  readonly #options: RecordSessionOptions
  readonly #channels: PointChannels | null
  readonly #states: ((monotonicNs: bigint) => IntakeState)[] = []
  readonly #planned: PlannedStage[]
  readonly #origins = new OriginMarks()
  readonly #places: Omit<MarkToWrite, 'timeNs'>[] = []
  #first: bigint | null = null
  #newest: { readonly timeNs: bigint; readonly arrival: Arrival } | null = null
  /** Newest reading of each channel, SI; without a system file of each number, as sent. */
  readonly newest = new Map<string, number>()
  points = 0
  marks = 0

  constructor(options: RecordSessionOptions) {
    this.#options = options
    this.#channels = options.system === null ? null : new PointChannels(options.system)
    this.#planned = [...options.planned]
  }

  states(): IntakeState[] {
    const now = process.hrtime.bigint()
    return this.#states.map((state) => state(now))
  }

  listen(port: Port, dialect: DialectName | null, tags: Readonly<Record<string, string>>): Intake {
    const { joinsMidLine, name } = port
    const intake = new Intake({
      port: name,
      sink: this.sink(name, port.origin ?? null),
      joinsMidLine,
      dialect,
      tags,
    })
    this.addState((now) => intake.state(now))
    return intake
  }

  addState(state: (monotonicNs: bigint) => IntakeState): void {
    this.#states.push(state)
  }

  sink(port: string, origin: Origin | null = null): IntakeSink {
    const { recording, forwarder, say } = this.#options
    const clock = new LoggerClock(port)
    return {
      point: (point, line, arrival) => {
        const timeNs = BigInt(point.timeNs ?? arrival.wallNs)
        const wrong = clock.update(timeNs, arrival.monotonicNs)
        this.#saw(timeNs, arrival)
        const own =
          point.measurement === markMeasurement ? loggersOwn({ ...point, timeNs: String(timeNs) }) : { line }
        if (own === null) {
          recording.reject('a mark that cannot be written', Buffer.from(line))
          return
        }
        recording.append(own.line, arrival)
        forwarder?.push(own.line)
        if (point.measurement === markMeasurement) this.marks++
        else this.points++
        this.#show(point, timeNs, origin)
        if (!this.#isLive(arrival)) return
        for (const fields of wrong) {
          say(fields.text)
          this.#write({ kind: 'clock', fields }, timeNs)
        }
      },
      reject: (reason, bytes) => recording.reject(reason, bytes),
      comment: (text) => recording.comment(text),
      mark: ({ kind, fields, timeNs }) => {
        if (kind === 'gap') clock.reopened()
        if (typeof fields['text'] === 'string') say(fields['text'])
        this.#write({ kind, fields }, timeNs)
      },
    }
  }

  /** Writes a mark at the present bench time. */
  mark(mark: TypedMark): void {
    this.#write({ ...mark, from: 'operator' }, this.benchNowNs())
  }

  /** Time on the samples' time scale. */
  benchNowNs(): bigint {
    const wallNs = BigInt(Date.now()) * 1_000_000n
    const newest = this.#newest
    if (newest === null) return wallNs
    const apart = newest.timeNs - newest.arrival.wallNs
    if (apart < sameClockNs && apart > -sameClockNs) return wallNs
    return newest.timeNs + (process.hrtime.bigint() - newest.arrival.monotonicNs)
  }

  /** To be called regularly, so that planned stages begin even when a logger is silent. */
  tick(): void {
    if (this.#first !== null) this.#plan(this.benchNowNs())
  }

  #saw(timeNs: bigint, arrival: Arrival): void {
    this.#first ??= timeNs
    this.#plan(timeNs)
    this.#newest = { timeNs, arrival }
  }

  /** Marks the planned stages that are due, each at its own time. */
  #plan(nowNs: bigint): void {
    const startNs = this.#first
    while (this.#planned.length > 0 && startNs !== null && nowNs >= startNs + this.#planned[0].afterNs) {
      const { name, afterNs } = this.#planned.shift() as PlannedStage
      this.#write(stageMark(name, this.#options.hold), startNs + afterNs)
      this.#options.say(`stage: ${name}`)
      if (name === 'end') this.#options.finished()
    }
  }

  #write(mark: Omit<MarkToWrite, 'timeNs'>, timeNs: bigint): void {
    this.#options.recording.mark({ ...mark, timeNs })
    if (mark.kind === 'place') {
      this.#places.push(mark)
      this.#channels?.place(this.#places)
    }
    if (mark.kind !== 'origin') this.marks++
    if (this.#options.forwarder === null) return
    const { kind, id, hold, from, fields } = mark
    const tags = Object.fromEntries(
      Object.entries({ kind, hold, id, from }).filter(([, value]) => value != null),
    )
    const point = { measurement: markMeasurement, tags: tags as Record<string, string>, fields, timeNs }
    this.#options.forwarder.push(formatPoint(point))
  }

  /** A stream of old data has its own clock and speed: its steps are no jumps. */
  #isLive(arrival: Arrival): boolean {
    const newest = this.#newest
    if (newest === null) return false
    const apart = newest.timeNs - arrival.wallNs
    return apart < sameClockNs * 60n && apart > -sameClockNs * 60n
  }

  #show(point: Point, timeNs: bigint, origin: Origin | null): void {
    if (point.measurement === markMeasurement) return
    const sayOrigin = (channel: string) => {
      const mark = origin && this.#origins.update(null, channel, origin)
      if (mark) this.#write(mark, timeNs)
    }
    if (this.#channels !== null) {
      this.#channels.read(point, Number(timeNs / 1_000_000n) / 1e3, ({ id, movable }, reading) => {
        this.newest.set(id, reading)
        sayOrigin(movable?.id ?? id)
      })
      return
    }
    sayOrigin('')
    const port = point.tags['port']
    for (const { key, value } of point.fields)
      if (typeof value === 'number') this.newest.set(port === undefined ? key : `${port}.${key}`, value)
  }
}
