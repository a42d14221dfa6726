import type { Origin } from '#analysis/model/origin.ts'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import type { SeenField } from '#dashboard/api.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { loggersOwn, markFromPoint, markMeasurement } from '#ingest/recording/mark-from-point.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { BenchClock } from './bench-clock.ts'
import { LiveChannels } from './live-channels.ts'
import { OriginMarks } from './origin-marks.ts'
import { PointChannels } from './point-channels.ts'
import { SeenFields } from './seen-fields.ts'
import { type NewSessionMark, SessionMarks } from './session-marks.ts'
import type { SessionRecording } from './session-recording.ts'

/** Who follows what comes in. */
export interface ReadingsFollower {
  /** A sample came; its line is recorded, its numbers are not read yet. */
  arrived(timeNs: bigint): void
  /** Its numbers stand in the channels. */
  read(timeS: number, timeNs: bigint): void
  /** A mark came among the logger's lines, as in a replay: it stands in the recording already. */
  markCame(mark: Mark, timeNs: bigint): void
  /** Told every line after it was recorded, to mirror it elsewhere. */
  forward(line: string): void
}

/**
 * What came in this session: every line is written first, and then read into the live channels and marks. Nothing that
 * counts rests on these: a verdict comes from the recording.
 */
export class SessionReadings {
  readonly marks = new SessionMarks()
  readonly #recording: SessionRecording
  readonly #clock: BenchClock
  readonly #follower: ReadingsFollower
  readonly #fields = new SeenFields()
  readonly #origins = new OriginMarks()
  #channels: LiveChannels
  #reader: PointChannels
  #startNs: bigint | null = null

  constructor(system: System, recording: SessionRecording, clock: BenchClock, follower: ReadingsFollower) {
    this.#recording = recording
    this.#clock = clock
    this.#follower = follower
    this.#channels = new LiveChannels(system)
    this.#reader = new PointChannels(system)
  }

  get channels(): LiveChannels {
    return this.#channels
  }

  /** Time of the first point or mark, from which seconds count; null before it. */
  get startNs(): bigint | null {
    return this.#startNs
  }

  seconds(timeNs: bigint): number {
    return Number(timeNs - (this.#startNs ?? timeNs)) / 1e9
  }

  /** What comes from now on is read against another system; the channels begin anew. */
  changeSystem(system: System): void {
    this.#channels = new LiveChannels(system, this.marks.since(Number.NEGATIVE_INFINITY))
    this.#reader = new PointChannels(system)
    this.#place()
  }

  #place(): void {
    this.#reader.place(this.marks.since(Number.NEGATIVE_INFINITY))
  }

  isPlaced(channel: Channel): boolean {
    return this.#reader.isPlaced(channel)
  }

  /** @param origin where it comes from; null where that is not known */
  point(point: Point, line: string, arrival: Arrival, origin: Origin | null = null): void {
    const timeNs = BigInt(point.timeNs!)
    if (point.measurement === markMeasurement) {
      this.#loggersMark(point, line, timeNs, arrival)
      return
    }
    this.#follower.arrived(timeNs)
    this.#recording.line(line, arrival)
    this.#follower.forward(line)
    this.#startNs ??= timeNs
    this.#clock.update(timeNs)
    const timeS = this.seconds(timeNs)
    this.#reader.read(point, timeS, (channel, reading) => {
      this.#channels.sample(channel.id, timeS, reading)
      const { name } = this.#recording
      const mark = origin && this.#origins.update(name, channel.movable?.id ?? channel.id, origin)
      if (mark) this.#write(mark, timeNs)
      const place = channel.movable && this.#origins.placed(name, channel)
      if (place) this.#write(place, timeNs)
    })
    this.#fields.update(point, timeS)
    this.#follower.read(timeS, timeNs)
  }

  /** A mark of the user's or the program's own. */
  mark(mark: NewSessionMark, timeNs: bigint): void {
    this.#write(mark, timeNs)
    const { kind, id, hold, from, fields } = mark
    this.#startNs ??= timeNs
    this.#add({
      timeNs: String(timeNs),
      timeS: this.seconds(timeNs),
      kind,
      id: id ?? null,
      hold: hold ?? null,
      ...(from && { from }),
      fields,
    })
  }

  #loggersMark(point: Point, line: string, timeNs: bigint, arrival: Arrival): void {
    const own = loggersOwn({ ...point, timeNs: String(timeNs) })
    if (own === null) {
      this.#recording.reject('a mark that cannot be written', Buffer.from(line))
      return
    }
    this.#recording.line(own.line, arrival)
    this.#follower.forward(own.line)
    this.#startNs ??= timeNs
    const mark = markFromPoint(own.point, this.#startNs)
    if (!mark) return
    this.#add(mark)
    this.#follower.markCame(mark, timeNs)
  }

  #write(mark: NewSessionMark, timeNs: bigint): void {
    this.#recording.mark(mark, timeNs)
    const { fields, ...named } = mark
    const tags = Object.fromEntries(Object.entries(named).filter(([, value]) => value !== undefined))
    this.#follower.forward(formatPoint({ measurement: markMeasurement, tags, fields, timeNs }))
  }

  /** For looks at a hold and for the page; the channels apply the captures of zero among them. */
  #add(mark: Mark): void {
    this.marks.add(mark)
    this.#channels.marked(mark)
    if (mark.kind === 'place' || mark.kind === 'correction') this.#place()
  }

  /** Takes over what a killed program had read already; readings as read, captures of zero not applied. */
  adopt(recording: Recording): void {
    this.#startNs = BigInt(recording.startNs)
    for (const { channel, timeS, reading } of recording.channels) {
      for (let index = 0; index < timeS.length; index++)
        this.#channels.sample(channel, timeS[index], reading[index])
    }
    this.#channels.takeBatch()
    for (const mark of recording.marks) this.#add(mark)
  }

  /** Every number the loggers send, and the channel that takes it. */
  fields(): SeenField[] {
    return this.#fields.list((point, field) => this.#reader.takerOf(point, field))
  }
}
