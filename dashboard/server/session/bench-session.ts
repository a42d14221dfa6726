import type { MarkMaker, Origin } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'
import { isNamed, type System } from '#analysis/model/system.ts'
import { type DisplayUnits, figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import type {
  Alarm,
  CompensatedCurve,
  LiveState,
  MinMaxColumns,
  NewMark,
  PortState,
  SeenField,
  StartCheck,
  StartHold,
} from '#dashboard/api.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import { EventRing } from '#dashboard/server/stream/event-ring.ts'
import { curingBars } from '#dashboard/wet/archive-surroundings.ts'
import { typedMeasurement } from '#ingest/intake/dialects/dialect.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import { AnalysisThread } from './analysis-thread.ts'
import { BenchClock } from './bench-clock.ts'
import { jumpMessage, type PortReceiver, type SessionPort } from './bench-port.ts'
import { HoldController } from './hold-controller.ts'
import { HoldNoteFile } from './hold-note.ts'
import type { SessionContext } from './hold-sealer.ts'
import { IdleRecording } from './idle-recording.ts'
import { InterruptedHold } from './interrupted-hold.ts'
import { OperatorMarks } from './operator-marks.ts'
import type { NewSessionMark } from './session-marks.ts'
import { SessionPorts } from './session-ports.ts'
import { SessionReadings } from './session-readings.ts'
import { SessionRecording } from './session-recording.ts'
import { SessionTicker } from './session-ticker.ts'
import type { HoldStage } from './stage-machine.ts'
import { startChecks } from './start-checks.ts'
import type { SystemFileOnDisk, SystemFileReading } from './system-file-on-disk.ts'

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

/**
 * One session at the bench: ports → recording → live columns, holds and their records.
 *
 * What arrives is written first and interpreted afterwards. Nothing here decides a verdict: the controller has the
 * recording analyzed by the same way as `stillhold analyze`.
 */
export class BenchSession {
  readonly ring = new EventRing()
  readonly systemFile: SystemFileOnDisk
  readonly controller: HoldController
  /** Set while the demo bench has an operator. */
  demoOperator: () => LiveState['demoOperator'] = () => undefined
  readonly #options: BenchSessionOptions
  readonly #recording: SessionRecording
  readonly #readings: SessionReadings
  readonly #interrupted: InterruptedHold
  readonly #ticker: SessionTicker
  readonly #note: HoldNoteFile
  readonly #thread = new AnalysisThread()
  readonly #clock: BenchClock
  readonly #ports: SessionPorts
  readonly #log: (line: string) => void
  readonly #idle: IdleRecording
  readonly #operatorMarks: OperatorMarks

  constructor(options: BenchSessionOptions) {
    this.#options = options
    this.systemFile = options.systemFile
    const { system } = options.systemFile
    if (system === null) throw new TypeError('a session needs a system file without errors')
    const speed = options.speed ?? 1
    this.#log = options.log ?? (() => {})
    this.#clock = new BenchClock(speed === 1)
    this.#note = new HoldNoteFile(options.folder)
    this.#recording = new SessionRecording(options.folder)
    this.#readings = new SessionReadings(system, this.#recording, this.#clock, {
      arrived: (timeNs) => this.#interrupted.arrived(timeNs),
      read: (timeS, timeNs) => this.controller.advance(timeS, timeNs),
      markCame: (mark, timeNs) => this.#followMark(mark, timeNs),
      forward: (line) => options.forward?.(line),
    })
    this.#operatorMarks = new OperatorMarks({
      archive: options.archive,
      systemFile: options.systemFile,
      marks: this.#readings.marks,
      speed,
      write: (mark, timeNs) => this.#mark(mark, timeNs),
      isHolding: () => this.controller.running !== null,
      takeBackStage: (of, mark) => this.controller.takeBackStage(of, mark),
    })
    this.#idle = new IdleRecording(this.#recording, this.#readings.marks)
    this.#ticker = new SessionTicker(this.ring, {
      batch: () => this.#readings.channels.takeBatch(),
      state: () => this.state(),
      tick: () => this.controller.tick(),
      beat: () => this.#endIdleRecording(),
    })
    this.#ports = new SessionPorts(options.ports, speed, (origin) => this.receiver(origin))
    this.controller = new HoldController(this.#context())
    this.#interrupted = new InterruptedHold({
      note: this.#note,
      archive: options.archive,
      recording: this.#recording,
      readings: this.#readings,
      controller: this.controller,
      systemFile: options.systemFile,
      mark: (mark, timeNs) => this.#mark(mark, timeNs),
      log: this.#log,
    })
    this.#recording.onTrouble = (message) => {
      this.#log(message)
      const nowNs = this.#clock.nowNs()
      if (nowNs !== null) this.controller.broke(`the recording failed: ${message}`, nowNs)
    }
    this.#recording.onClockJump = (seconds, timeNs) => {
      this.#log(jumpMessage('this computer', seconds))
      // The recording has the mark already; looks at the running hold must see it too.
      const fields = { jump_s: seconds }
      const timeS = this.#readings.seconds(timeNs)
      this.#readings.marks.add({ timeNs: String(timeNs), timeS, kind: 'clock', id: null, hold: null, fields })
    }
  }

  /** Takes up what a killed program left, then opens the ports. */
  async open(): Promise<void> {
    this.#interrupted.resume()
    this.#ticker.start()
    await this.#ports.open()
  }

  /** Ends the session. A hold that runs is not ended: the next start takes it up. */
  async close(): Promise<void> {
    await this.#ports.close()
    this.#ticker.stop()
    await this.controller.close()
    const lost = this.#recording.close()
    const { trouble } = this.#recording
    if (lost > 0 || trouble)
      this.#log(`the session ends with lines that are not kept: ${trouble ?? `${lost} of them`}`)
    await this.#thread.close()
    this.ring.close()
  }

  /** Where points from elsewhere enter, such as from a logger that writes over HTTP. */
  receiver(origin: Origin | null): PortReceiver {
    return {
      point: (point, line, arrival) => this.#readings.point(point, line, arrival, origin),
      reject: (reason, bytes) => this.#recording.reject(reason, bytes),
      comment: (text) => this.#recording.comment(text),
      mark: ({ kind, fields, timeNs }) => this.#mark({ kind, fields }, this.#clock.nowNs() ?? timeNs),
      say: this.#log,
      isTaken: (field) => this.#system().channels.some(({ from }) => from.field === field),
      clockWrong: (fields, timeNs) => {
        this.#mark({ kind: 'clock', fields }, timeNs)
        if (Number(fields.seconds ?? 0) < 0) this.#clock.restart()
      },
    }
  }

  /** Bench time, [s]; null before the first sample. */
  get nowS(): number | null {
    const nowNs = this.#clock.nowNs()
    return nowNs === null ? null : this.#readings.seconds(nowNs)
  }

  /** Lists a source of points that is no port, such as loggers that write over HTTP. */
  addPortState(state: () => PortState): void {
    this.#ports.addOther(state)
  }

  /** What `take` hands on is on the disk when this returns, or taken back. @throws RecordingFault while the disk refuses */
  keep(take: () => void): void {
    this.#recording.keep(take)
  }

  /** @throws RequestError with the first thing that is wrong with its sensors, while a sealant cures, or when it cannot begin */
  startHold(order: StartHold, from: MarkMaker = 'operator'): void {
    const wrong = this.checks(order.hold).find(({ state }) => state === 'blocks')
    if (wrong && this.nowS !== null) throw new RequestError(409, wrong.message)
    const spec = this.systemFile.system?.holds.find(({ id }) => id === order.hold)
    const nowNs = BigInt(Date.now()) * 1_000_000n
    const { system } = this.systemFile
    const barred =
      spec &&
      system &&
      (whyNotPlanned(spec, system, figuresIn(unitsOfSystem(system)).pressure) ??
        curingBars(this.#options.archive, spec.sections, nowNs))
    if (barred) throw new RequestError(409, barred)
    this.controller.start(order, from)
  }

  /** Each sensor of a hold that is about to start, in the reader's units; empty for a hold that the system file does not have. */
  checks(hold: string, units?: DisplayUnits): StartCheck[] {
    const spec = this.#system().holds.find(({ id }) => id === hold)
    const newest = this.#readings.channels.newest()
    return spec
      ? startChecks(spec, this.#system(), {
          newest,
          unitOf: (channel) => this.#ports.unitOf(channel),
          figures: figuresIn(units ?? unitsOfSystem(this.#system(), spec.sections)),
          isPlaced: (channel) => this.#readings.isPlaced(channel),
        })
      : []
  }

  /** Another baud rate, or names of the columns. @throws RequestError when the port cannot be set so */
  fixPort(name: string, setting: { readonly baudRate?: number; readonly columns?: readonly string[] }): void {
    this.#ports.fix(name, setting)
    this.#ticker.changed()
  }

  /** @param reason why the hold ends before its time; it stands in the recording */
  enterStage(stage: HoldStage, reason?: string, from: MarkMaker = 'operator'): void {
    this.controller.request(stage, from, reason)
  }

  /** @param from who makes it: the person at this machine, or at a joined device */
  mark(mark: NewMark, from: MarkMaker = 'operator'): void {
    const isTyped = this.#system().channels.some(
      ({ movable, from: { measurement } }) => movable?.id === mark.id && measurement === typedMeasurement,
    )
    const wallNs = isTyped ? arrivalNow().wallNs : null
    const nowNs = this.#clock.nowNs() ?? wallNs
    if (nowNs === null) throw new RequestError(409, 'No reading has arrived yet: connect the logger first.')
    if (this.#recording.trouble) throw new RequestError(507, this.#recording.trouble)
    this.#operatorMarks.add(mark, nowNs, from)
    this.#options.onMark?.(mark)
  }

  /**
   * Readings that a person took by eye just now, each in its channel's unit.
   *
   * @throws RequestError for a channel that a logger reads, and on a bench that does not run in real time
   */
  typed(readings: Readonly<Record<string, number>>): void {
    if ((this.#options.speed ?? 1) !== 1)
      throw new RequestError(409, 'This bench is simulated: it takes no typed readings.')
    if (this.#recording.trouble) throw new RequestError(507, this.#recording.trouble)
    const arrival = arrivalNow()
    for (const [id, value] of Object.entries(readings)) {
      const from = this.#system().channels.find((channel) => isNamed(channel, id))?.from
      if (from?.measurement !== typedMeasurement)
        throw new RequestError(
          404,
          `The system file has no channel ${id} from the measurement ${typedMeasurement}.`,
        )
      const { measurement, field, tags } = from
      const timeNs = String(arrival.wallNs)
      const point: Point = { measurement, tags, fields: [{ key: field, type: 'float', value }], timeNs }
      this.#readings.point(point, formatPoint(point), arrival, { kind: 'typed', name: null, sha256: null })
    }
    this.#ticker.changed()
  }

  confirmDialect(name: string): void {
    this.#ports.confirm(name)
    this.#ticker.changed()
  }

  changeSystem(text: string): SystemFileReading & { readonly saved: boolean } {
    if (this.controller.running || this.controller.sealing) {
      throw new RequestError(409, 'A hold is running: the system file can be changed when it is sealed.')
    }
    const reading = this.systemFile.change(text)
    if (reading.system) this.#readings.changeSystem(reading.system)
    this.#ticker.changed()
    return { ...reading, saved: reading.system !== null }
  }

  ports(): PortState[] {
    return this.#ports.list()
  }

  fields(): SeenField[] {
    return this.#readings.fields()
  }

  columns(fromS: number, points: number): MinMaxColumns[] {
    return this.#readings.channels.minMax(fromS, points)
  }

  compensated(): CompensatedCurve[] {
    return this.controller.curves()
  }

  state(): Omit<LiveState, 'role'> {
    const { startNs } = this.#readings
    const operator = this.demoOperator()
    return {
      version: this.#options.version,
      systemName: this.#system().name,
      systemChanges: this.systemFile.changes,
      speed: this.#options.speed ?? 1,
      demo: this.#options.demo ?? false,
      ...(operator ? { demoOperator: operator } : {}),
      nowS: this.nowS,
      recording: this.#recording.name,
      newest: this.#readings.channels.newest(),
      ports: this.ports(),
      hold: this.controller.running?.show(this.nowS ?? 0) ?? null,
      last: this.controller.sealer.last,
      alarms: this.#alarms(),
      marks: this.#readings.marks.shown(),
      recordingStartNs: startNs === null ? null : String(startNs),
      sealing: this.controller.sealing,
    }
  }

  #context(): SessionContext {
    return {
      archive: this.#options.archive,
      recording: this.#recording,
      marks: this.#readings.marks,
      note: this.#note,
      thread: this.#thread,
      channels: () => this.#readings.channels,
      system: () => ({ system: this.#system(), text: this.systemFile.text }),
      nowNs: () => this.#clock.nowNs(),
      startNs: () => this.#readings.startNs ?? 0n,
      seconds: (timeNs) => this.#readings.seconds(timeNs),
      mark: (mark, timeNs) => this.#mark(mark, timeNs),
      changed: () => this.#ticker.changed(),
      stageBegan: (stage, hold) => this.#options.onStage?.(stage, hold),
      log: this.#log,
    }
  }

  #system(): System {
    return this.systemFile.system!
  }

  #alarms(): Alarm[] {
    const { trouble } = this.#recording
    const { clockJump } = this.#recording
    const isToBeTold =
      clockJump !== null && (this.controller.running || performance.now() - clockJump.atMs < jumpToldMs)
    const { trouble: unsealed, setAside } = this.controller.sealer
    return [
      ...this.#readings.channels.alarms(),
      ...this.controller.alarms(),
      ...(trouble ? [{ code: 'disk-full' as const, message: trouble }] : []),
      ...(isToBeTold
        ? [{ code: 'clock-jump' as const, message: jumpMessage('this computer', clockJump.seconds) }]
        : []),
      ...(unsealed ? [{ code: 'not-sealed' as const, message: unsealed }] : []),
      ...(setAside ? [{ code: 'set-aside' as const, message: setAside }] : []),
      ...this.#ports.alarms(),
    ]
  }

  /** Stages that come with the logger's lines, as in a replay, are followed. */
  #followMark({ kind, hold, fields }: Mark, timeNs: bigint): void {
    const name = fields.name as HoldStage
    if (kind === 'stage' && stages.includes(name)) this.controller.follow(name, hold, timeNs)
    this.#ticker.changed()
  }

  #mark(mark: NewSessionMark, timeNs: bigint): void {
    this.#readings.mark(mark, timeNs)
    this.#ticker.changed()
  }

  #endIdleRecording(): void {
    const { nowS } = this
    if (nowS !== null && !this.controller.running) this.#idle.endWhenOld(nowS, this.controller.lastEndS)
  }
}

/** How long a jump of the clock is told where no hold runs, [ms]. */
const jumpToldMs = 60_000

const stages: readonly HoldStage[] = ['pump-up', 'settle', 'hold', 'vent', 'end']
