import type { System } from '#analysis/model/system.ts'
import type {
  Alarm,
  CompensatedCurve,
  LiveState,
  MinMaxColumns,
  NewMark,
  PortState,
  SeenField,
  StartHold,
} from '#dashboard/api.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { markFromPoint, markMeasurement } from '#ingest/recording/mark-from-point.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import { AnalysisThread } from './analysis-thread.ts'
import { BenchClock } from './bench-clock.ts'
import { BenchPort, jumpMessage, type PortReceiver, type SessionPort } from './bench-port.ts'
import { EventRing } from './event-ring.ts'
import { goesOnWithinS, HoldConductor, type Stand } from './hold-conductor.ts'
import { HoldNoteFile } from './hold-note.ts'
import { LiveChannels } from './live-channels.ts'
import { PointChannels } from './point-channels.ts'
import { RequestError } from './request-error.ts'
import { sealWork } from './seal-work.ts'
import { SeenFields } from './seen-fields.ts'
import { type NewSessionMark, SessionMarks } from './session-marks.ts'
import { SessionRecording } from './session-recording.ts'
import type { HoldStage } from './stage-machine.ts'
import type { SystemFileOnDisk, SystemFileReading } from './system-file-on-disk.ts'
import { takeUpHold } from './take-up-hold.ts'

export interface BenchSessionOptions {
  readonly systemFile: SystemFileOnDisk
  readonly archive: Archive
  /** Where the session's recordings are written. */
  readonly folder: string
  readonly ports: readonly SessionPort[]
  readonly version: string
  /** Bench seconds in one of ours; 1 on a real bench. */
  readonly speed?: number
  readonly demo?: boolean
  /** Told after a stage was marked: what drives the simulated bench. */
  readonly onStage?: (stage: HoldStage, hold: string) => void
  /** Told after a mark of the user's was written. */
  readonly onMark?: (mark: NewMark) => void
  /** Told every line after it was recorded, to mirror it elsewhere. */
  readonly forward?: (line: string) => void
  /** Messages for the terminal. */
  readonly log?: (line: string) => void
}

const tickMs = 100
const stateEveryMs = 1000
const stateAfterChangeMs = 200
const beatEveryMs = 5000
/** A recording without a hold is ended after this bench time, so that a hold's recording stays small, [s]. */
const idleRecordingS = 1800

/**
 * One session at the bench: ports → recording → live columns, holds and their records.
 *
 * What arrives is written first and interpreted afterwards. Nothing here decides a verdict: the conductor has the
 * recording analyzed by the same way as `stillhold analyze`.
 */
export class BenchSession {
  readonly ring = new EventRing()
  readonly systemFile: SystemFileOnDisk
  readonly conductor: HoldConductor
  /** Set while the demo bench has an operator. */
  demoOperator: () => LiveState['demoOperator'] = () => undefined
  readonly #options: BenchSessionOptions
  readonly #recording: SessionRecording
  readonly #marks = new SessionMarks()
  readonly #fields = new SeenFields()
  readonly #note: HoldNoteFile
  readonly #thread = new AnalysisThread()
  readonly #clock: BenchClock
  readonly #ports: readonly BenchPort[]
  readonly #otherPorts: (() => PortState)[] = []
  readonly #log: (line: string) => void
  #channels: LiveChannels
  #reader: PointChannels
  #startNs: bigint | null = null
  #recordingBeganS = 0
  #changed = true
  #stateAtMs = 0
  #beatAtMs = 0
  #timer: NodeJS.Timeout | null = null
  /** A hold taken up after a restart waits for it. */
  #firstReading: ((timeNs: bigint) => void) | null = null

  constructor(options: BenchSessionOptions) {
    this.#options = options
    this.systemFile = options.systemFile
    const { system } = options.systemFile
    if (system === null) throw new TypeError('a session needs a system file without errors')
    const speed = options.speed ?? 1
    this.#log = options.log ?? (() => {})
    this.#clock = new BenchClock(speed === 1)
    this.#channels = new LiveChannels(system)
    this.#reader = new PointChannels(system)
    this.#note = new HoldNoteFile(options.folder)
    this.#recording = new SessionRecording(options.folder)
    this.#ports = options.ports.map((port) => new BenchPort(port, speed, this.receiver()))
    this.conductor = new HoldConductor(this.#stand())
    this.#recording.onTrouble = (message) => {
      this.#log(message)
      const nowNs = this.#clock.nowNs()
      if (nowNs !== null) this.conductor.interrupt(`the recording failed: ${message}`, nowNs)
    }
  }

  /** Takes up what a killed program left, then opens the ports. */
  async open(): Promise<void> {
    this.#takeUp()
    this.#timer = setInterval(() => this.#tick(), tickMs)
    for (const port of this.#ports) await port.port.open(port)
  }

  /** Ends the session. A hold that runs is not ended: the next start takes it up. */
  async close(): Promise<void> {
    for (const { port } of this.#ports) await port.close()
    if (this.#timer) clearInterval(this.#timer)
    await this.conductor.close()
    const lost = this.#recording.close()
    if (lost > 0) this.#log(`the disk took nothing: the last ${lost} lines are lost`)
    await this.#thread.close()
    this.ring.close()
  }

  /** Where points from elsewhere enter, such as from a logger that writes over HTTP. */
  receiver(): PortReceiver {
    return {
      point: (point, line, arrival) => this.#point(point, line, arrival),
      reject: (reason, bytes) => this.#recording.reject(reason, bytes),
      comment: (text) => this.#recording.comment(text),
      mark: ({ kind, fields, timeNs }) => this.#mark({ kind, fields }, this.#clock.nowNs() ?? timeNs),
      clockJumped: (port, seconds, timeNs) => {
        const fields = { port, seconds, text: jumpMessage(port, seconds) }
        this.#mark({ kind: 'clock', fields }, timeNs)
        if (seconds < 0) this.#clock.restart()
      },
    }
  }

  /** Bench time, [s]; null before the first sample. */
  get nowS(): number | null {
    const nowNs = this.#clock.nowNs()
    return nowNs === null ? null : this.#seconds(nowNs)
  }

  /** Lists a source of points that is no port, such as loggers that write over HTTP. */
  addPortState(state: () => PortState): void {
    this.#otherPorts.push(state)
  }

  /** What arrived so far is on the disk when this returns. @throws RecordingFault while the disk refuses */
  sync(): void {
    this.#recording.sync()
  }

  startHold(order: StartHold): void {
    this.conductor.start(order)
  }

  enterStage(stage: HoldStage): void {
    this.conductor.request(stage)
  }

  mark(mark: NewMark): void {
    const nowNs = this.#clock.nowNs()
    if (nowNs === null) throw new RequestError(409, 'No reading has arrived yet: connect the logger first.')
    if (this.#recording.trouble) throw new RequestError(507, this.#recording.trouble)
    this.#mark(mark, nowNs)
    if (!this.conductor.running) sealWork(this.#options.archive, mark, nowNs, this.systemFile)
    this.#options.onMark?.(mark)
  }

  confirmDialect(name: string): void {
    const port = this.#ports.find((each) => each.port.name === name)
    if (!port) throw new RequestError(404, `There is no port ${name}.`)
    port.confirm()
    this.#changed = true
  }

  changeSystem(text: string): SystemFileReading & { readonly saved: boolean } {
    if (this.conductor.running || this.conductor.sealing) {
      throw new RequestError(409, 'A hold is running: the system file can be changed when it is sealed.')
    }
    const reading = this.systemFile.change(text)
    if (reading.system) {
      this.#channels = new LiveChannels(reading.system)
      this.#reader = new PointChannels(reading.system)
    }
    this.#changed = true
    return { ...reading, saved: reading.system !== null }
  }

  ports(): PortState[] {
    const others = this.#otherPorts.map((state) => state()).filter(({ lines }) => lines > 0)
    return [...this.#ports.map((port) => port.state()), ...others.map(plainPortState)]
  }

  fields(): SeenField[] {
    return this.#fields.list((point, field) => this.#reader.takerOf(point, field))
  }

  columns(fromS: number, points: number): MinMaxColumns[] {
    return this.#channels.minMax(fromS, points)
  }

  compensated(): CompensatedCurve[] {
    return this.conductor.curves()
  }

  state(): Omit<LiveState, 'role'> {
    const operator = this.demoOperator()
    return {
      version: this.#options.version,
      systemName: this.#system().name,
      speed: this.#options.speed ?? 1,
      demo: this.#options.demo ?? false,
      ...(operator ? { demoOperator: operator } : {}),
      nowS: this.nowS,
      recording: this.#recording.name,
      newest: this.#channels.newest(),
      ports: this.ports(),
      hold: this.conductor.running?.show() ?? null,
      last: this.conductor.last,
      alarms: this.#alarms(),
      marks: this.#marks.shown(),
      recordingStartNs: this.#startNs === null ? null : String(this.#startNs),
      sealing: this.conductor.sealing,
    }
  }

  #stand(): Stand {
    const session = this
    return {
      archive: this.#options.archive,
      recording: this.#recording,
      marks: this.#marks,
      note: this.#note,
      thread: this.#thread,
      channels: () => this.#channels,
      system: () => ({ system: this.#system(), text: this.systemFile.text }),
      nowNs: () => this.#clock.nowNs(),
      startNs: () => this.#startNs ?? 0n,
      seconds: (timeNs) => this.#seconds(timeNs),
      mark: (mark, timeNs) => this.#mark(mark, timeNs),
      changed() {
        session.#changed = true
      },
      stageBegan: (stage, hold) => this.#options.onStage?.(stage, hold),
      log: this.#log,
    }
  }

  #system(): System {
    return this.systemFile.system!
  }

  #alarms(): Alarm[] {
    const { trouble } = this.#recording
    const unsealed = this.conductor.trouble
    return [
      ...this.#channels.alarms(),
      ...(trouble ? [{ code: 'disk-full' as const, message: trouble }] : []),
      ...(unsealed ? [{ code: 'not-sealed' as const, message: unsealed }] : []),
      ...this.#ports.flatMap((port) => port.alarms()),
    ]
  }

  #seconds(timeNs: bigint): number {
    return Number(timeNs - (this.#startNs ?? timeNs)) / 1e9
  }

  #point(point: Point, line: string, arrival: Arrival): void {
    const timeNs = BigInt(point.timeNs!)
    if (point.measurement !== markMeasurement) this.#firstReading?.(timeNs)
    this.#recording.line(line, arrival)
    this.#options.forward?.(line)
    this.#startNs ??= timeNs
    if (point.measurement === markMeasurement) {
      this.#markThatCame(point, timeNs)
      return
    }
    this.#clock.saw(timeNs)
    const timeS = this.#seconds(timeNs)
    this.#readChannels(point, timeS)
    this.conductor.advance(timeS, timeNs)
  }

  /** Numbers of a point: those that a channel takes become its samples, all are listed as seen. */
  #readChannels(point: Point, timeS: number): void {
    this.#reader.read(point, timeS, (channel, reading) => this.#channels.sample(channel, timeS, reading))
    for (const { key, value } of point.fields) {
      if (typeof value !== 'number' && typeof value !== 'bigint') continue
      this.#fields.saw(point, key, Number(value), timeS)
    }
  }

  /** A mark among the logger's lines, as in a replay: shown and followed, and already recorded. */
  #markThatCame(point: Point, timeNs: bigint): void {
    const mark = markFromPoint({ ...point, timeNs: String(timeNs) }, this.#startNs ?? timeNs)
    if (!mark) return
    this.#marks.add(mark)
    const name = mark.fields.name as HoldStage
    if (mark.kind === 'stage' && stages.includes(name)) this.conductor.follow(name, mark.hold, timeNs)
    this.#changed = true
  }

  #mark(mark: NewSessionMark, timeNs: bigint): void {
    this.#recording.mark(mark, timeNs)
    const { kind, id, hold, fields } = mark
    const tags = { kind, ...(id !== undefined && { id }), ...(hold !== undefined && { hold }) }
    this.#options.forward?.(formatPoint({ measurement: markMeasurement, tags, fields, timeNs }))
    this.#startNs ??= timeNs
    this.#marks.add({
      timeNs: String(timeNs),
      timeS: this.#seconds(timeNs),
      kind: mark.kind,
      id: mark.id ?? null,
      hold: mark.hold ?? null,
      fields: mark.fields,
    })
    this.#changed = true
  }

  #tick(): void {
    const nowMs = performance.now()
    const batch = this.#channels.takeBatch()
    if (batch) this.ring.push('samples', JSON.stringify(batch))
    this.conductor.tick()
    const sinceMs = nowMs - this.#stateAtMs
    if (sinceMs >= stateEveryMs || (this.#changed && sinceMs >= stateAfterChangeMs)) {
      this.#changed = false
      this.#stateAtMs = nowMs
      this.ring.push('state', JSON.stringify(this.state()))
    }
    if (nowMs - this.#beatAtMs >= beatEveryMs) {
      this.#beatAtMs = nowMs
      this.ring.push('beat', '{}')
      this.#endIdleRecording()
    }
  }

  #endIdleRecording(): void {
    const nowNs = this.#clock.nowNs()
    if (nowNs === null || this.conductor.running) return
    const nowS = this.#seconds(nowNs)
    if (nowS - this.#recordingBeganS < idleRecordingS) return
    // What was done to a fitting belongs into the recording of the hold that proves it afterwards.
    if (this.#marks.since(this.#recordingBeganS).length > 0) return
    this.#recording.rotate()
    this.#recordingBeganS = nowS
  }

  #takeUp(): void {
    const note = this.#note.read()
    if (!note) return
    if (this.#options.archive.evidence().some(({ recording }) => recording?.name === note.recording)) {
      // Sealed already: the program ended between the seal and the end of its note.
      this.#note.clear()
      return
    }
    const left = takeUpHold(note, this.#options.folder, this.systemFile)
    if (left.kind === 'ended') {
      this.#log(left.why)
      this.conductor.sealInterrupted(note, left.why)
      return
    }
    const { recording, lastNs } = left
    this.#recording.continue(note.recording)
    this.#startNs = BigInt(recording.startNs)
    for (const { channel, timeS, reading } of recording.channels) {
      for (let index = 0; index < timeS.length; index++)
        this.#channels.sample(channel, timeS[index], reading[index])
    }
    this.#channels.takeBatch()
    for (const mark of recording.marks) this.#marks.add(mark)
    this.conductor.resume(note, recording, this.#channels)
    this.#log(`the hold ${note.hold} was running when the program ended: waiting for the logger to go on`)
    const giveUp = (why: string) => {
      clearTimeout(patience)
      this.#firstReading = null
      this.conductor.interrupt(why, lastNs)
    }
    const patience = setTimeout(
      () => giveUp(`no reading came for ${goesOnWithinS} s after a restart`),
      goesOnWithinS * 1000,
    )
    patience.unref()
    this.#firstReading = (timeNs) => {
      clearTimeout(patience)
      this.#firstReading = null
      const seconds = Number(timeNs - lastNs) / 1e9
      const text = `the program was restarted; nothing was recorded for ${seconds.toFixed(1)} s`
      if (seconds < 0 || seconds > goesOnWithinS) giveUp(text)
      else this.#mark({ kind: 'gap', fields: { seconds, text } }, timeNs)
    }
  }
}

/** Only what the page is told. */
function plainPortState(state: PortState): PortState {
  const { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault } = state
  return { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault }
}

const stages: readonly HoldStage[] = ['pump-up', 'settle', 'hold', 'vent', 'end']
