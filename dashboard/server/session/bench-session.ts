import type { MarkMaker } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'
import { isNamed } from '#analysis/model/system.ts'
import { type DisplayUnits, figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import type { Alarm, LiveState, NewMark, StartCheck, StartHold } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import { EventRing } from '#dashboard/server/stream/event-ring.ts'
import { curingBars } from '#dashboard/wet/work-archive.ts'
import { typedMeasurement } from '#ingest/intake/dialects/dialect.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import { jumpMessage } from './clocks.ts'
import { HoldController } from './hold-controller.ts'
import { InterruptedHold } from './interrupted-hold.ts'
import { OperatorMarks } from './operator-marks.ts'
import { SessionCore, type SessionOptions } from './session-core.ts'
import { SessionPorts } from './session-ports.ts'
import { IdleRecording } from './session-recording.ts'
import { SessionTicker } from './session-ticker.ts'
import type { HoldStage } from './stage-machine.ts'
import { startChecks } from './start-checks.ts'
import type { SystemFileOnDisk, SystemFileReading } from './system-file-on-disk.ts'

/** How long a jump of this computer's clock is shown when no hold runs, [ms]. */
const jumpShownMs = 60_000

const stages: readonly HoldStage[] = ['pump-up', 'settle', 'hold', 'vent', 'end']

/**
 * One session at the bench: ports → recording → live columns, holds and their records.
 *
 * Input is written first and interpreted afterwards. Nothing here decides a verdict: the controller has the
 * recording analyzed like `stillhold analyze`.
 */
export class BenchSession {
  readonly ring = new EventRing()
  readonly systemFile: SystemFileOnDisk
  readonly controller: HoldController
  readonly ports: SessionPorts
  /** Set when the demo bench has an operator. */
  demoOperator: () => LiveState['demoOperator'] = () => undefined
  readonly core: SessionCore
  readonly #interrupted: InterruptedHold
  readonly #ticker: SessionTicker
  readonly #idle: IdleRecording
  readonly #operatorMarks: OperatorMarks

  constructor(options: SessionOptions) {
    const core = new SessionCore(options)
    this.core = core
    this.systemFile = options.systemFile
    this.controller = new HoldController(core)
    this.#interrupted = new InterruptedHold(core, this.controller)
    this.#operatorMarks = new OperatorMarks(core, this.controller)
    this.#idle = new IdleRecording(core.recording, core.marks)
    this.#ticker = new SessionTicker(this.ring, core, {
      state: () => this.state(),
      tick: () => this.controller.tick(),
      beat: () => this.#endIdleRecording(),
    })
    this.ports = new SessionPorts(
      options.ports,
      core.speed,
      (origin) => core.receiver(origin),
      () => core.changed(),
    )
    core.follower = {
      arrived: (timeNs) => this.#interrupted.arrived(timeNs),
      read: (timeS, timeNs) => this.controller.advance(timeS, timeNs),
      markCame: (mark, timeNs) => this.#followMark(mark, timeNs),
    }
    core.recording.onTrouble = (message) => {
      core.log(message)
      const nowNs = core.clock.nowNs()
      if (nowNs !== null) this.controller.broke(`the recording failed: ${message}`, nowNs)
    }
    core.recording.onClockJump = (seconds, timeNs) => {
      core.log(jumpMessage('this computer', seconds))
      // The recording already has the mark; the analysis of the running hold needs it too.
      const fields = { jump_s: seconds }
      const timeS = core.seconds(timeNs)
      core.marks.add({ timeNs: String(timeNs), timeS, kind: 'clock', id: null, hold: null, fields })
    }
  }

  /** Resumes a hold that a killed program left, then opens the ports. */
  async open(): Promise<void> {
    this.#interrupted.resume()
    this.#ticker.start()
    await this.ports.open()
  }

  /** Ends the session. A running hold is not ended: the next start resumes it. */
  async close(): Promise<void> {
    const { recording, log, thread } = this.core
    await this.ports.close()
    this.#ticker.stop()
    await this.controller.close()
    recording.close()
    if (recording.trouble) log(`the session ends with unsaved lines: ${recording.trouble}`)
    await thread.close()
    this.ring.close()
  }

  /** Bench time, [s]; null before the first sample. */
  get nowS(): number | null {
    return this.core.nowS
  }

  /** @throws RequestError with the first sensor fault, while a sealant cures, or when the hold cannot begin */
  startHold(order: StartHold, from: MarkMaker = 'operator'): void {
    const wrong = this.checks(order.hold).find(({ state }) => state === 'blocks')
    if (wrong && this.nowS !== null) throw new RequestError(409, wrong.message)
    const { system } = this.systemFile
    const spec = system.holds.find(({ id }) => id === order.hold)
    const nowNs = BigInt(Date.now()) * 1_000_000n
    const barred =
      spec &&
      (whyNotPlanned(spec, system, figuresIn(unitsOfSystem(system)).pressure) ??
        curingBars(this.core.archive, spec.sections, nowNs))
    if (barred) throw new RequestError(409, barred)
    this.controller.start(order, from)
  }

  /** Each sensor of a hold before its start, in the reader's units; empty for a hold that the system file does not define. */
  checks(hold: string, units?: DisplayUnits): StartCheck[] {
    const { system } = this.systemFile
    const spec = system.holds.find(({ id }) => id === hold)
    if (!spec) return []
    return startChecks(spec, system, {
      newest: this.core.channels.newest(),
      unitOf: (channel) => this.ports.unitOf(channel),
      figures: figuresIn(units ?? unitsOfSystem(system, spec.sections)),
      isPlaced: (channel) => this.core.isPlaced(channel),
    })
  }

  /** @param reason why the hold ends early; written into the recording */
  enterStage(stage: HoldStage, reason?: string, from: MarkMaker = 'operator'): void {
    this.controller.request(stage, from, reason)
  }

  /** @param from who makes it: a person at this machine, or at a joined device */
  mark(mark: NewMark, from: MarkMaker = 'operator'): void {
    const { aircraft } = this.core.options
    // A phone keeps an offline mark until the bench is set to its aircraft again.
    if (mark.aircraft !== undefined && mark.aircraft !== aircraft)
      throw new RequestError(503, `This mark is for ${mark.aircraft}, but ${aircraft} is at the bench.`)
    const isTyped = this.systemFile.system.channels.some(
      ({ movable, from: { measurement } }) => movable?.id === mark.id && measurement === typedMeasurement,
    )
    const nowNs = this.core.clock.nowNs() ?? (isTyped ? arrivalNow().wallNs : null)
    // A phone sends a mark again that was made before the first reading.
    if (nowNs === null) throw new RequestError(503, 'No reading has arrived yet: connect the logger first.')
    this.#requireDisk()
    this.#operatorMarks.add(mark, nowNs, from)
    this.core.options.onMark?.(mark)
  }

  #requireDisk(): void {
    const { trouble } = this.core.recording
    if (trouble) throw new RequestError(507, trouble)
  }

  /**
   * Readings that a person just took by eye, each in its channel's unit.
   *
   * @throws RequestError for a channel that a logger reads, and on a bench that does not run in real time
   */
  typed(readings: Readonly<Record<string, number>>): void {
    if (this.core.speed !== 1)
      throw new RequestError(409, 'This bench is simulated: it takes no typed readings.')
    this.#requireDisk()
    const arrival = arrivalNow()
    for (const [id, value] of Object.entries(readings)) {
      const from = this.systemFile.system.channels.find((channel) => isNamed(channel, id))?.from
      if (from?.measurement !== typedMeasurement)
        throw new RequestError(
          404,
          `The system file has no channel ${id} from the measurement ${typedMeasurement}.`,
        )
      const { measurement, field, tags } = from
      const timeNs = String(arrival.wallNs)
      const point: Point = { measurement, tags, fields: [{ key: field, type: 'float', value }], timeNs }
      this.core.point(point, formatPoint(point), arrival, { kind: 'typed', name: null, sha256: null })
    }
    this.core.changed()
  }

  changeSystem(text: string): SystemFileReading & { readonly saved: boolean } {
    if (this.controller.running || this.controller.sealing) {
      throw new RequestError(409, 'A hold is running: the system file can be changed when it is sealed.')
    }
    const reading = this.systemFile.change(text)
    if (reading.system) this.core.changeSystem()
    this.core.changed()
    return { ...reading, saved: reading.system !== null }
  }

  state(): Omit<LiveState, 'role'> {
    const { startNs, options, channels, marks, recording, nowS, speed } = this.core
    const operator = this.demoOperator()
    return {
      version: options.version,
      systemName: this.systemFile.system.name,
      systemChanges: this.systemFile.changes,
      speed,
      demo: options.demo ?? false,
      ...(options.aircraft === undefined ? {} : { aircraft: options.aircraft }),
      ...(operator ? { demoOperator: operator } : {}),
      nowS,
      recording: recording.name,
      newest: channels.newest(),
      ports: this.ports.list(),
      hold: this.controller.running?.show(nowS ?? 0) ?? null,
      last: this.controller.sealer.last,
      alarms: this.#alarms(),
      marks: marks.shown(),
      recordingStartNs: startNs === null ? null : String(startNs),
      sealing: this.controller.sealing,
    }
  }

  #alarms(): Alarm[] {
    const { recording, channels } = this.core
    const { trouble, clockJump } = recording
    const { trouble: unsealed, setAside } = this.controller.sealer
    const isShown =
      clockJump !== null && (this.controller.running || performance.now() - clockJump.atMs < jumpShownMs)
    const alarm = (code: Alarm['code'], message: string | null): Alarm[] =>
      message ? [{ code, message }] : []
    return [
      ...channels.alarms(),
      ...this.controller.alarms(),
      ...alarm('disk-full', trouble),
      ...alarm('clock-jump', isShown ? jumpMessage('this computer', clockJump.seconds) : null),
      ...alarm('not-sealed', unsealed),
      ...alarm('set-aside', setAside),
      ...this.ports.alarms(),
    ]
  }

  /** Stage marks in the logger's lines, as in a replay, are followed. */
  #followMark({ kind, hold, fields }: Mark, timeNs: bigint): void {
    const name = fields.name as HoldStage
    if (kind === 'stage' && stages.includes(name)) this.controller.follow(name, hold, timeNs)
    this.core.changed()
  }

  #endIdleRecording(): void {
    const { nowS } = this
    if (nowS !== null && !this.controller.running) this.#idle.endWhenOld(nowS, this.controller.lastEndS)
  }
}
