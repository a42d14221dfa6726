import type { Origin } from '#analysis/model/origin.ts'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import type { NewMark, SeenField } from '#dashboard/api.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { loggersOwn, markFromPoint, markMeasurement } from '#ingest/recording/mark-from-point.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import { AnalysisThread } from './analysis-thread.ts'
import { BenchClock } from './clocks.ts'
import { HoldNoteFile } from './hold-note.ts'
import { LiveChannels } from './live-channels.ts'
import { PointChannels, SeenFields } from './point-channels.ts'
import { type NewSessionMark, OriginMarks, SessionMarks } from './session-marks.ts'
import type { SessionPort } from './session-ports.ts'
import { SessionRecording } from './session-recording.ts'
import type { HoldStage } from './stage-machine.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'

export interface SessionOptions {
  readonly systemFile: SystemFileOnDisk
  readonly archive: Archive
  readonly folder: string
  readonly ports: readonly SessionPort[]
  readonly version: string
  /** Bench seconds per real second; 1 on a real bench. */
  readonly speed?: number
  readonly demo?: boolean
  /** Aircraft of the workshop; absent where there is only one. */
  readonly aircraft?: string
  /** Called after a stage was marked, for the driver of the simulated bench. */
  readonly onStage?: (stage: HoldStage, hold: string) => void
  /** Called after a user's mark was written. */
  readonly onMark?: (mark: NewMark) => void
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
 * Shared state of a session: every line is written first, and then read into the live channels
 * and marks. No verdict rests on these: it comes from the recording.
 */
export class SessionCore {
  readonly options: SessionOptions
  readonly archive: Archive
  readonly systemFile: SystemFileOnDisk
  readonly recording: SessionRecording
  readonly speed: number
  readonly clock: BenchClock
  readonly marks = new SessionMarks()
  readonly note: HoldNoteFile
  readonly thread = new AnalysisThread()
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

  constructor(options: SessionOptions, recording = new SessionRecording(options.folder)) {
    this.options = options
    this.archive = options.archive
    this.systemFile = options.systemFile
    this.recording = recording
    this.speed = options.speed ?? 1
    this.clock = new BenchClock(this.speed === 1)
    this.note = new HoldNoteFile(options.folder)
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
      const { name } = this.recording
      const mark = origin && this.#origins.update(name, channel.movable?.id ?? channel.id, origin)
      if (mark) this.#write(mark, timeNs)
      const place = channel.movable && this.#origins.placed(name, channel)
      if (place) this.#write(place, timeNs)
    })
    this.#fields.update(point, timeS)
    this.follower.read(timeS, timeNs)
  }

  /** A mark by the user or the program. */
  mark(mark: NewSessionMark, timeNs: bigint): void {
    this.#write(mark, timeNs)
    const { kind, id = null, hold = null, from, fields } = mark
    this.startNs ??= timeNs
    const timeS = this.seconds(timeNs)
    this.#add({ timeNs: String(timeNs), timeS, kind, id, hold, ...(from && { from }), fields })
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
    this.#add(mark)
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
  #add(mark: Mark): void {
    this.marks.add(mark)
    this.channels.marked(mark)
    if (mark.kind === 'place' || mark.kind === 'correction') this.#place()
  }

  /** Takes over the readings of a killed program, as read: captures of zero not applied. */
  adopt(recording: Recording): void {
    this.startNs = BigInt(recording.startNs)
    for (const { channel, timeS, reading } of recording.channels) {
      for (const [index, each] of reading.entries()) this.channels.sample(channel, timeS[index]!, each)
    }
    this.channels.takeBatch()
    for (const mark of recording.marks) this.#add(mark)
  }

  /** Every number that the loggers send, and the channel that maps it. */
  fields(): SeenField[] {
    return this.#fields.list((point, field) => this.#reader.takerOf(point, field))
  }
}
