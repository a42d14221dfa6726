import type { Origin } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import type { SeenField } from '#dashboard/api.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { loggersOwn, markFromPoint, markMeasurement } from '#ingest/recording/mark-from-point.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import { BenchClock } from './clocks.ts'
import { LiveChannels } from './live-channels.ts'
import { PointChannels, SeenFields } from './point-channels.ts'
import { type NewSessionMark, OriginMarks, SessionMarks } from './session-marks.ts'
import type { PortReceiver } from './session-ports.ts'
import type { SessionRecording } from './session-recording.ts'

export interface LineOptions {
  readonly systemFile: { readonly system: Pick<System, 'channels' | 'sections'> }
  /** Bench seconds per real second; 1 on a real bench. */
  readonly speed?: number
  /** Called with every line after it was recorded, to mirror it elsewhere. */
  readonly forward?: (line: string) => void
  readonly log?: (line: string) => void
}

export interface Follower {
  /** A sample came; its line is recorded, its numbers are not parsed yet. */
  arrived(timeNs: bigint): void
  /** The channels have its numbers. */
  read(timeS: number, timeNs: bigint): void
  /** A mark came in the logger's lines, as in a replay: the recording already has it. */
  markCame(mark: Mark, timeNs: bigint): void
}

/**
 * The lines of a session: every one is written first, and then read into the live channels and marks. No verdict rests
 * on these: it comes from the recording.
 */
export class RecordedLines<O extends LineOptions = LineOptions> {
  readonly options: O
  readonly systemFile: O['systemFile']
  readonly recording: SessionRecording
  readonly speed: number
  readonly clock: BenchClock
  readonly marks = new SessionMarks()
  readonly log: (line: string) => void
  follower: Follower = { arrived() {}, read() {}, markCame() {} }
  /** The state changed since it was last sent. */
  isChanged = true
  channels: LiveChannels
  /** Time of the first point or mark, the origin of seconds; null before it. */
  startNs: bigint | null = null
  readonly #fields = new SeenFields()
  readonly #origins = new OriginMarks()
  #reader: PointChannels

  constructor(options: O, recording: SessionRecording) {
    this.options = options
    this.systemFile = options.systemFile
    this.recording = recording
    this.speed = options.speed ?? 1
    this.clock = new BenchClock(this.speed === 1)
    this.log = options.log ?? (() => {})
    this.channels = new LiveChannels(this.systemFile.system)
    this.#reader = new PointChannels(this.systemFile.system)
  }

  /** The state changed: watchers are notified soon. */
  changed(): void {
    this.isChanged = true
  }

  seconds(timeNs: bigint): number {
    return Number(timeNs - (this.startNs ?? timeNs)) / 1e9
  }

  /** Bench time, [s]; null before the first sample. */
  get nowS(): number | null {
    const nowNs = this.clock.nowNs()
    return nowNs === null ? null : this.seconds(nowNs)
  }

  /** Later data are read against another system; the channels start empty. */
  changeSystem(): void {
    const { system } = this.systemFile
    this.channels = new LiveChannels(system, this.marks.since(Number.NEGATIVE_INFINITY))
    this.#reader = new PointChannels(system)
    this.#place()
  }

  #place(): void {
    this.#reader.place(this.marks.since(Number.NEGATIVE_INFINITY))
  }

  isPlaced(channel: Channel): boolean {
    return this.#reader.isPlaced(channel)
  }

  /** Entry for the lines of one source. @param origin source of its readings; null where unknown */
  receiver(origin: Origin | null): PortReceiver {
    const { recording, clock, log } = this
    return {
      point: (point, line, arrival) => this.point(point, line, arrival, origin),
      reject: (reason, bytes) => recording.reject(reason, bytes),
      comment: (text) => recording.comment(text),
      mark: ({ kind, fields, timeNs }) => this.mark({ kind, fields }, clock.nowNs() ?? timeNs),
      say: log,
      isTaken: (field) => this.systemFile.system.channels.some(({ from }) => from.field === field),
      clockWrong: (fields, timeNs) => {
        this.mark({ kind: 'clock', fields }, timeNs)
        if ('seconds' in fields && fields.seconds < 0) clock.restart()
      },
    }
  }

  /** @param origin source of the readings; null where unknown */
  point(point: Point, line: string, arrival: Arrival, origin: Origin | null = null): void {
    const timeNs = BigInt(point.timeNs!)
    if (point.measurement === markMeasurement) {
      this.#loggersMark(point, line, timeNs, arrival)
      return
    }
    this.follower.arrived(timeNs)
    this.recording.line(line, arrival)
    this.options.forward?.(line)
    this.startNs ??= timeNs
    this.clock.update(timeNs)
    const timeS = this.seconds(timeNs)
    this.#reader.read(point, timeS, (channel, reading) => {
      this.channels.sample(channel.id, timeS, reading)
      this.#markOrigin(origin, channel.movable?.id ?? channel.id, timeNs)
      const place = channel.movable && this.#origins.placed(this.recording.name, channel)
      if (place) this.#write(place, timeNs)
    })
    if (this.systemFile.system.channels.length === 0) this.#markOrigin(origin, null, timeNs)
    this.#fields.update(point, timeS)
    this.follower.read(timeS, timeNs)
  }

  /** Marks the source at its first reading in each recording. @param channel null: of all its numbers, without a system file */
  #markOrigin(origin: Origin | null, channel: string | null, timeNs: bigint): void {
    const mark = origin && this.#origins.update(this.recording.name, channel, origin)
    if (mark) this.#write(mark, timeNs)
  }

  /** A mark by the user or the program. */
  mark(mark: NewSessionMark, timeNs: bigint): void {
    this.#write(mark, timeNs)
    const { kind, id = null, hold = null, from, fields } = mark
    this.startNs ??= timeNs
    const timeS = this.seconds(timeNs)
    this.add({ timeNs: String(timeNs), timeS, kind, id, hold, ...(from && { from }), fields })
    this.changed()
  }

  #loggersMark(point: Point, line: string, timeNs: bigint, arrival: Arrival): void {
    const own = loggersOwn({ ...point, timeNs: String(timeNs) })
    if (own === null) {
      this.recording.reject('a mark that cannot be written', Buffer.from(line))
      return
    }
    this.recording.line(own.line, arrival)
    this.options.forward?.(own.line)
    this.startNs ??= timeNs
    const mark = markFromPoint(own.point, this.startNs)
    if (!mark) return
    this.add(mark)
    this.follower.markCame(mark, timeNs)
  }

  #write(mark: NewSessionMark, timeNs: bigint): void {
    this.recording.mark(mark, timeNs)
    if (!this.options.forward) return
    const { fields, ...named } = mark
    const tags = Object.fromEntries(Object.entries(named).filter(([, value]) => value !== undefined))
    this.options.forward(formatPoint({ measurement: markMeasurement, tags, fields, timeNs }))
  }

  /** For looks at a hold and for the page; the channels apply the captures of zero in it. */
  protected add(mark: Mark): void {
    this.marks.add(mark)
    this.channels.marked(mark)
    if (mark.kind === 'place' || mark.kind === 'correction') this.#place()
  }

  /** Every number that the loggers send, and the channel that maps it. */
  fields(): SeenField[] {
    return this.#fields.list((point, field) => this.#reader.takerOf(point, field))
  }
}
