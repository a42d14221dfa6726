import type { MarkMaker } from '#analysis/model/origin.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Alarm, CompensatedCurve, LostAnswer, StartHold } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import { type HoldNote, keepHoldPhoto } from './hold-note.ts'
import { HoldSealer } from './hold-sealer.ts'
import { alarm, lostWords } from './pressure-watch.ts'
import { RunningHold } from './running-hold.ts'
import type { SessionCore } from './session-core.ts'
import { type HoldStage, StageOrderError } from './stage-machine.ts'

/** Readings before pump-up that belong to the hold: they show the zero and a working sensor, [s]. */
const baselineS = 60
/** Maximum age of a stage that can be withdrawn; the page offers it for 10 s and its request takes a moment, [ms]. */
const undoForMs = 12_000
/** After a restart of the program a hold continues if readings return within this bench time, [s]. */
export const goesOnWithinS = 120

/**
 * Runs one hold after another: marks its stages, analyzes it while it runs, and at its end analyzes the recording
 * and seals the result. The final verdict never rests on the live columns.
 */
export class HoldController {
  readonly #core: SessionCore
  running: RunningHold | null = null
  /** Bench time at which the last hold ended, [s]; minus infinity before the first. */
  lastEndS = Number.NEGATIVE_INFINITY
  /** This machine's clock at the start of the running stage, [ms]. */
  #enteredAtMs = Number.NEGATIVE_INFINITY
  #checkedAtS = Number.NEGATIVE_INFINITY
  readonly sealer: HoldSealer

  constructor(core: SessionCore) {
    this.#core = core
    this.sealer = new HoldSealer(core, () => this.running !== null)
  }

  get sealing(): boolean {
    return this.sealer.busy
  }

  curves(): CompensatedCurve[] {
    return this.running?.curves() ?? []
  }

  /** @throws RequestError when it cannot begin now */
  start(order: StartHold, from: MarkMaker): void {
    const nowNs = this.#core.clock.nowNs()
    if (nowNs === null) throw new RequestError(409, 'No reading has arrived yet: connect the logger first.')
    this.#begin(order, nowNs, false)
    this.#mark('pump-up', nowNs, { from, ...(order.dry === false && { dry: false }) })
    this.#entered('pump-up', nowNs)
  }

  /**
   * @param reason why the hold ends before its prescribed time
   * @throws RequestError when the stage cannot follow
   */
  request(stage: HoldStage, from: MarkMaker, reason?: string): void {
    const nowNs = this.#core.clock.nowNs()
    const hold = this.running
    if (!hold || nowNs === null) throw new RequestError(409, 'No hold is running: start one first.')
    if (stage === 'settle' && !hold.machine.isAtPressure(hold.gaugePa()))
      throw new RequestError(
        409,
        'Cannot settle yet: the gauge is under half of the test pressure. Pump up first.',
      )
    this.#enter(hold, stage, this.#core.marks.unusedNs(nowNs), from, reason)
  }

  /** The operator's cause of a pressure loss. @throws RequestError when no loss waits for an answer */
  answerLost(answer: LostAnswer): void {
    const nowNs = this.#core.clock.nowNs()
    const hold = this.running
    if (!hold?.lost || nowNs === null) throw new RequestError(409, 'There is no pressure loss to explain.')
    const { atS, section } = hold.lost
    const lostNs = (this.#core.startNs ?? 0n) + BigInt(Math.round(atS * 1e9))
    hold.answerLost(answer === 'still-holding')
    hold.anchor()
    const text = `pressure of ${section} lost: ${lostWords[answer]}`
    // A joint that fails under pressure voids the hold: only the operator can distinguish it from a vent.
    const isVent = answer === 'vented' || answer === 'still-holding'
    if (isVent) this.#core.mark({ kind: 'note', fields: { text } }, lostNs)
    else this.#core.mark({ kind: 'fault', fields: { code: 'pressure-lost', text } }, lostNs)
    // An unmarked vent began when the drop was detected.
    if (answer === 'vented') this.#enter(hold, 'vent', lostNs)
    else if (answer !== 'still-holding') this.#enter(hold, 'vent', nowNs)
    this.#core.changed()
  }

  /** A photo for the running hold, of a fitting or of the whole. @throws RequestError when no hold accepts it */
  photo(fitting: string | null, bytes: Uint8Array): void {
    const hold = this.running
    const nowNs = this.#core.clock.nowNs()
    if (!hold || nowNs === null) throw new RequestError(409, 'No hold is running: photos belong to a hold.')
    const { folder, name: recording } = this.#core.recording
    const name = keepHoldPhoto(folder, hold.photos, { fitting, bytes, recording: recording ?? 'hold' })
    if (name === null) throw new RequestError(409, 'This hold already has the maximum number of photos.')
    hold.photos = [...hold.photos, name]
    this.#keepNote(hold)
    const id = fitting === null ? {} : { id: fitting }
    this.#core.mark({ kind: 'note', ...id, fields: { text: 'photo', photo: name } }, nowNs)
  }

  /** An unexplained pressure loss. */
  alarms(): Alarm[] {
    const lost = this.running?.lost
    return lost
      ? [alarm('pressure-fell', { section: lost.section, from_Pa: lost.fromPa, to_Pa: lost.toPa })]
      : []
  }

  #enter(
    hold: RunningHold,
    stage: HoldStage,
    timeNs: bigint,
    from: MarkMaker = 'operator',
    reason?: string,
  ): void {
    const atS = this.#core.seconds(timeNs)
    const { machine, spec } = hold
    const leftS = machine.stage === 'hold' ? spec.holdS - (atS - machine.startedS) : 0
    try {
      machine.enter(stage, atS)
    } catch (error) {
      if (error instanceof StageOrderError)
        throw new RequestError(409, `Cannot start ${stage} now: ${error.message}.`)
      throw error
    }
    if (hold.lost) hold.answerLost(false)
    const isEarly = leftS > 0.01 * spec.holdS && (spec.time ?? 'prescribed') === 'prescribed'
    this.#mark(stage, timeNs, { from, ...(isEarly && reason ? { reason } : {}) })
    this.#entered(stage, timeNs)
  }

  /**
   * Withdraws the stage that began last: `mark` writes the correction, and the stage before it continues.
   *
   * @param of time of its mark, epoch nanoseconds
   * @throws RequestError when it is another stage or too late
   */
  takeBackStage(of: string, mark: () => void): void {
    const hold = this.running
    const stage = hold?.machine.stage
    if (!hold || stage === undefined || stage === 'pump-up' || hold.begunNs[stage] !== of)
      throw new RequestError(409, 'Only the stage that began last can be taken back.')
    if (performance.now() - this.#enteredAtMs > undoForMs)
      throw new RequestError(409, 'A stage can be taken back for 10 s only. Continue, or give up the hold.')
    mark()
    hold.takeBackStage()
    this.#enteredAtMs = Number.NEGATIVE_INFINITY
    this.#keepNote(hold)
    hold.anchor()
    this.#core.options.onStage?.(hold.machine.stage, hold.spec.id)
    this.#core.changed()
  }

  /** A stage mark in the logger's lines, as in a replay: the recording already has it. */
  follow(stage: HoldStage, holdId: string | null, timeNs: bigint): void {
    const running = this.running
    if (stage === 'pump-up' && !running) {
      const { system } = this.#core.systemFile
      const [only, ...others] = system.holds
      const id = holdId ?? (others.length === 0 ? only?.id : null)
      if (!id || this.sealing || !system.holds.some((spec) => spec.id === id)) return
      this.#begin({ hold: id, operator: null, witness: null, stateSheet: [], retests: null }, timeNs, true)
      this.#entered('pump-up', timeNs)
      return
    }
    if (!running) return
    running.follows = true
    try {
      running.machine.enter(stage, this.#core.seconds(timeNs))
    } catch (error) {
      if (error instanceof StageOrderError) return
      throw error
    }
    this.#entered(stage, timeNs)
  }

  /** A sample arrived: updates the running stage and the automatic start of the next. */
  advance(timeS: number, timeNs: bigint): void {
    const hold = this.running
    if (!hold || Math.abs(timeS - this.#checkedAtS) < 0.2) return
    this.#checkedAtS = timeS
    hold.update(timeS)
    if (hold.follows || hold.lost) return
    const due = hold.machine.due(timeS, hold.gaugePa())
    if (due) this.#enter(hold, due, timeNs)
  }

  /** Called about ten times a second. */
  tick(): void {
    const collected = this.#core.channels.takeCollected()
    if (collected) this.#core.thread.tell('append', collected)
    const { nowS } = this.#core
    if (this.running?.machine.stage === 'hold' && nowS !== null) this.running.look(nowS)
    this.sealer.next()
  }

  /** Resumes the hold that a killed program left. `read` is its recording; the session continues it. */
  resume(note: HoldNote, read: Recording): void {
    this.running = RunningHold.fromNote(note, this.#core)
    if (!this.running) return
    const { thread, channels, systemFile } = this.#core
    thread.tell('begin', systemFile.system, read.name, read.startNs)
    thread.tell('append', channels.collectFrom(Number.NEGATIVE_INFINITY))
  }

  /** Ends a hold that cannot continue. Its recording decides what it proves; without a vent it proves nothing. */
  interrupt(why: string, timeNs: bigint): void {
    const hold = this.running
    if (!hold) return
    this.#core.mark({ kind: 'fault', fields: { code: 'interrupted', text: why } }, timeNs)
    hold.machine.enter('end', this.#core.seconds(timeNs))
    this.#mark('end', timeNs)
    this.#finish(hold, why)
  }

  /** The running hold can prove nothing more. It still runs: the section is under pressure until it is vented. */
  broke(why: string, timeNs: bigint): void {
    const hold = this.running
    if (!hold || hold.broken !== null) return
    hold.broken = why
    this.#core.mark({ kind: 'fault', fields: { code: 'interrupted', text: why } }, timeNs)
    this.#keepNote(hold)
    this.#core.changed()
  }

  /** Resolves when no sealing is in progress; none starts after that. */
  async close(): Promise<void> {
    if (this.running) this.running.isOver = true
    await this.sealer.close()
  }

  #begin(order: StartHold, timeNs: bigint, follows: boolean): void {
    if (this.running)
      throw new RequestError(409, `The hold ${this.running.spec.id} is running: end it first.`)
    if (this.sealing) throw new RequestError(409, 'The last hold is being sealed: wait a moment.')
    if (this.#core.recording.trouble) throw new RequestError(507, this.#core.recording.trouble)
    const { system } = this.#core.systemFile
    const spec = system.holds.find(({ id }) => id === order.hold)
    if (!spec)
      throw new RequestError(404, `The system file has no hold ${order.hold}: choose one of its holds.`)
    const startedS = this.#core.seconds(timeNs)
    const hold = new RunningHold(this.#core, spec, order, startedS, this.lastEndS + 1e-6)
    hold.follows = follows
    this.running = hold
    this.#checkedAtS = Number.NEGATIVE_INFINITY
    const fromS = Math.max(startedS - baselineS, this.lastEndS)
    const { thread, recording, channels, startNs } = this.#core
    thread.tell('begin', system, recording.name ?? '', String(startNs ?? 0n))
    thread.tell('append', channels.collectFrom(fromS))
    if (order.stateSheet.length > 0) {
      const text = `checked: ${order.stateSheet.join('; ')}`
      this.#core.mark({ kind: 'note', fields: { text } }, timeNs)
    }
  }

  /** @param made who asked for the stage, and why it ends early; empty for an automatic one */
  #mark(
    stage: HoldStage,
    timeNs: bigint,
    { from, ...more }: { readonly from?: MarkMaker; readonly reason?: string; readonly dry?: boolean } = {},
  ): void {
    const hold = this.running!.spec.id
    this.#core.mark({ kind: 'stage', hold, fields: { name: stage, ...more }, ...(from && { from }) }, timeNs)
  }

  #entered(stage: HoldStage, timeNs: bigint): void {
    const hold = this.running!
    hold.begunNs[stage] = String(timeNs)
    this.#enteredAtMs = performance.now()
    this.#keepNote(hold)
    if (stage === 'settle' || stage === 'hold') hold.anchor()
    if (stage === 'end') this.#finish(hold, hold.broken)
    this.#core.options.onStage?.(stage, hold.spec.id)
    this.#core.changed()
  }

  #keepNote(hold: RunningHold): void {
    try {
      this.#core.note.write(hold.note(this.#core.recording.name ?? ''))
    } catch (error) {
      this.#core.log(`${(error as Error).message}; after a restart the running hold could not continue`)
    }
  }

  #finish(hold: RunningHold, remark: string | null): void {
    this.running = null
    hold.isOver = true
    this.lastEndS = hold.machine.startedS
    this.#core.channels.stopCollecting()
    this.#core.thread.tell('end')
    const name = this.#core.recording.rotate() ?? ''
    this.sealer.add(hold.note(name), remark)
  }
}
