import type { MarkMaker } from '#analysis/model/origin.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Alarm, CompensatedCurve, LostAnswer, StartHold } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import type { HoldNote } from './hold-note.ts'
import { keepHoldPhoto } from './hold-photos.ts'
import { HoldSealer, type SessionContext } from './hold-sealer.ts'
import type { LiveChannels } from './live-channels.ts'
import { alarm } from './pressure-alarms.ts'
import { lostWords } from './pressure-loss.ts'
import { RunningHoldState } from './running-hold-state.ts'
import { RunningHoldWatch } from './running-hold-watch.ts'
import { type HoldStage, StageOrderError } from './stage-machine.ts'

/** Readings before pump-up that belong to the hold: they show the zero and that the sensor responds, [s]. */
const baselineS = 60
/** A stage is taken back for so long; the page offers it for 10 s and its request takes a moment, [ms]. */
const undoForMs = 12_000
/** A hold goes on after a restart of the program when readings come again within this bench time, [s]. */
export const goesOnWithinS = 120

/**
 * Runs one hold after another: marks its stages, looks at it while it holds, and when it ends analyzes the recording
 * itself and seals the result. The verdict that counts never rests on the live columns.
 */
export class HoldController {
  readonly #context: SessionContext
  #hold: RunningHoldState | null = null
  #lastEndS = Number.NEGATIVE_INFINITY
  /** Clock of this machine when the running stage began, [ms]. */
  #enteredAtMs = Number.NEGATIVE_INFINITY
  #checkedAtS = Number.NEGATIVE_INFINITY
  readonly #watch: RunningHoldWatch
  readonly sealer: HoldSealer
  #closed = false

  constructor(context: SessionContext) {
    this.#context = context
    this.#watch = new RunningHoldWatch(context)
    this.sealer = new HoldSealer(context, () => this.#hold !== null)
  }

  get running(): RunningHoldState | null {
    return this.#hold
  }

  /** Bench time at which the last hold ended, [s]; before the first, minus infinity. */
  get lastEndS(): number {
    return this.#lastEndS
  }

  get sealing(): boolean {
    return this.sealer.busy
  }

  curves(): CompensatedCurve[] {
    return this.#hold?.curves() ?? []
  }

  /** @throws RequestError when it cannot begin now */
  start(order: StartHold, from: MarkMaker): void {
    const nowNs = this.#context.nowNs()
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
    const nowNs = this.#context.nowNs()
    const hold = this.#hold
    if (!hold || nowNs === null) throw new RequestError(409, 'No hold is running: start one first.')
    if (stage === 'settle' && !hold.machine.isAtPressure(this.#gaugePa(hold)))
      throw new RequestError(
        409,
        'Cannot settle yet: the gauge is under half of the test pressure. Pump up first.',
      )
    this.#enter(hold, stage, this.#context.marks.unusedNs(nowNs), from, reason)
  }

  /** The operator says what let the pressure off. @throws RequestError when no loss waits for an answer */
  answerLost(answer: LostAnswer): void {
    const nowNs = this.#context.nowNs()
    const hold = this.#hold
    if (!hold?.lost || nowNs === null) throw new RequestError(409, 'No pressure loss waits for an answer.')
    const { atS, section } = hold.lost
    const lostNs = this.#context.startNs() + BigInt(Math.round(atS * 1e9))
    hold.answerLost(answer === 'still-holding')
    this.#watch.anchor(hold)
    const text = `pressure of ${section} lost: ${lostWords[answer]}`
    // What let go under pressure voids the hold: only the operator can tell it from a vent.
    const isVent = answer === 'vented' || answer === 'still-holding'
    if (isVent) this.#context.mark({ kind: 'note', fields: { text } }, lostNs)
    else this.#context.mark({ kind: 'fault', fields: { code: 'pressure-lost', text } }, lostNs)
    // A vent that nobody marked began when the fall was seen.
    if (answer === 'vented') this.#enter(hold, 'vent', lostNs)
    else if (answer !== 'still-holding') this.#enter(hold, 'vent', nowNs)
    this.#context.changed()
  }

  /** A photo taken at the running hold, of a fitting or of the whole. @throws RequestError when no hold takes it */
  photo(fitting: string | null, bytes: Uint8Array): void {
    const hold = this.#hold
    const nowNs = this.#context.nowNs()
    if (!hold || nowNs === null) throw new RequestError(409, 'No hold is running: photos go with a hold.')
    const { folder, name: recording } = this.#context.recording
    const name = keepHoldPhoto(folder, hold.photos, { fitting, bytes, recording: recording ?? 'hold' })
    if (name === null) throw new RequestError(409, 'This hold has as many photos as it can take.')
    hold.photos = [...hold.photos, name]
    this.#keepNote(hold)
    const id = fitting === null ? {} : { id: fitting }
    this.#context.mark({ kind: 'note', ...id, fields: { text: 'photo', photo: name } }, nowNs)
  }

  /** A lost pressure that nobody has explained yet. */
  alarms(): Alarm[] {
    const lost = this.#hold?.lost
    return lost
      ? [alarm('pressure-fell', { section: lost.section, from_Pa: lost.fromPa, to_Pa: lost.toPa })]
      : []
  }

  #enter(
    hold: RunningHoldState,
    stage: HoldStage,
    timeNs: bigint,
    from: MarkMaker = 'operator',
    reason?: string,
  ): void {
    const atS = this.#context.seconds(timeNs)
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
   * The stage that began last was a mistake: `mark` writes the correction, and the stage before goes on.
   *
   * @param of time of its mark, epoch nanoseconds
   * @throws RequestError when it is another stage or too late
   */
  takeBackStage(of: string, mark: () => void): void {
    const hold = this.#hold
    const stage = hold?.machine.stage
    if (!hold || stage === undefined || stage === 'pump-up' || hold.begunNs[stage] !== of)
      throw new RequestError(409, 'Only the stage that began last can be taken back.')
    if (performance.now() - this.#enteredAtMs > undoForMs)
      throw new RequestError(409, 'A stage can be taken back for 10 s only. Go on, or give the hold up.')
    mark()
    hold.takeBackStage()
    this.#keepNote(hold)
    this.#watch.anchor(hold)
    this.#context.stageBegan(hold.machine.stage, hold.spec.id)
    this.#context.changed()
  }

  #gaugePa(hold: RunningHoldState): number[] {
    return this.#context
      .channels()
      .standing(hold.spec.sections)
      .map(({ gaugePa }) => gaugePa)
  }

  /** A stage mark that came with the logger's lines, as in a replay: it stands in the recording already. */
  follow(stage: HoldStage, holdId: string | null, timeNs: bigint): void {
    const running = this.#hold
    if (stage === 'pump-up' && !running) {
      const { system } = this.#context.system()
      const id = holdId ?? (system.holds.length === 1 ? system.holds[0].id : null)
      if (!id || this.sealing || !system.holds.some((spec) => spec.id === id)) return
      this.#begin({ hold: id, operator: null, witness: null, stateSheet: [], retests: null }, timeNs, true)
      this.#entered('pump-up', timeNs)
      return
    }
    if (!running) return
    running.follows = true
    try {
      running.machine.enter(stage, this.#context.seconds(timeNs))
    } catch (error) {
      if (error instanceof StageOrderError) return
      throw error
    }
    this.#entered(stage, timeNs)
  }

  /** A sample arrived: what it shows of the running stage, and the stage that starts without a tap. */
  advance(timeS: number, timeNs: bigint): void {
    const hold = this.#hold
    if (!hold || Math.abs(timeS - this.#checkedAtS) < 0.2) return
    this.#checkedAtS = timeS
    this.#watch.update(hold, timeS)
    if (hold.follows || hold.lost) return
    const due = hold.machine.due(timeS, this.#gaugePa(hold))
    if (due) this.#enter(hold, due, timeNs)
  }

  /** Called about ten times a second. */
  tick(): void {
    const nowNs = this.#context.nowNs()
    const collected = this.#context.channels().takeCollected()
    if (collected) this.#context.thread.append(collected)
    const hold = this.#hold
    if (hold && nowNs !== null) {
      const nowS = this.#context.seconds(nowNs)
      const goesOn = () => this.#hold === hold && !this.#closed
      if (hold.machine.stage === 'hold') this.#watch.look(hold, nowS, goesOn)
    }
    this.sealer.next()
  }

  /** Takes up the hold that a killed program left. `read` is its recording; the session continues it. */
  resume(note: HoldNote, read: Recording, channels: LiveChannels): boolean {
    const { system } = this.#context.system()
    const hold = RunningHoldState.fromNote(note, system, (ns) => this.#context.seconds(BigInt(ns)))
    if (!hold) return false
    this.#hold = hold
    this.#context.thread.begin(system, read.name, read.startNs)
    this.#context.thread.append(channels.collectFrom(Number.NEGATIVE_INFINITY))
    return true
  }

  /** Ends a hold that cannot go on. Its recording decides what it proves; without a vent it proves nothing. */
  interrupt(why: string, timeNs: bigint): void {
    const hold = this.#hold
    if (!hold) return
    this.#context.mark({ kind: 'fault', fields: { code: 'interrupted', text: why } }, timeNs)
    hold.machine.enter('end', this.#context.seconds(timeNs))
    this.#mark('end', timeNs)
    this.#finish(hold, why)
  }

  /** The running hold can prove nothing more. It runs on: it is under pressure until somebody vents it. */
  broke(why: string, timeNs: bigint): void {
    const hold = this.#hold
    if (!hold || hold.broken !== null) return
    hold.broken = why
    this.#context.mark({ kind: 'fault', fields: { code: 'interrupted', text: why } }, timeNs)
    this.#keepNote(hold)
    this.#context.changed()
  }

  /** Seals the hold of a note without taking it up again. */
  sealInterrupted(note: HoldNote, why: string): void {
    this.sealer.add(note, why)
  }

  /** Resolves when nothing is being sealed; nothing is begun after that. */
  async close(): Promise<void> {
    this.#closed = true
    await this.sealer.close()
  }

  #begin(order: StartHold, timeNs: bigint, follows: boolean): void {
    if (this.#hold) throw new RequestError(409, `The hold ${this.#hold.spec.id} is running: end it first.`)
    if (this.sealing) throw new RequestError(409, 'The last hold is being sealed: wait a moment.')
    if (this.#context.recording.trouble) throw new RequestError(507, this.#context.recording.trouble)
    const { system, text } = this.#context.system()
    const spec = system.holds.find(({ id }) => id === order.hold)
    if (!spec)
      throw new RequestError(404, `The system file has no hold ${order.hold}: choose one of its holds.`)
    const startedS = this.#context.seconds(timeNs)
    const hold = new RunningHoldState(spec, order, text, startedS, this.#lastEndS + 1e-6)
    hold.follows = follows
    this.#hold = hold
    this.#watch.restart()
    this.#checkedAtS = Number.NEGATIVE_INFINITY
    const fromS = Math.max(startedS - baselineS, this.#lastEndS)
    this.#context.thread.begin(system, this.#context.recording.name ?? '', String(this.#context.startNs()))
    this.#context.thread.append(this.#context.channels().collectFrom(fromS))
    if (order.stateSheet.length > 0) {
      const text = `checked: ${order.stateSheet.join('; ')}`
      this.#context.mark({ kind: 'note', fields: { text } }, timeNs)
    }
  }

  /** @param made who asked for the stage, and why it ends early; empty for one that was due */
  #mark(
    stage: HoldStage,
    timeNs: bigint,
    { from, ...more }: { readonly from?: MarkMaker; readonly reason?: string; readonly dry?: boolean } = {},
  ): void {
    const hold = this.#hold!.spec.id
    this.#context.mark(
      { kind: 'stage', hold, fields: { name: stage, ...more }, ...(from && { from }) },
      timeNs,
    )
  }

  #entered(stage: HoldStage, timeNs: bigint): void {
    const hold = this.#hold!
    hold.begunNs[stage] = String(timeNs)
    this.#enteredAtMs = performance.now()
    this.#keepNote(hold)
    if (stage === 'settle' || stage === 'hold') this.#watch.anchor(hold)
    if (stage === 'end') this.#finish(hold, hold.broken)
    this.#context.stageBegan(stage, hold.spec.id)
    this.#context.changed()
  }

  #keepNote(hold: RunningHoldState): void {
    try {
      this.#context.note.write(hold.note(this.#context.recording.name ?? ''))
    } catch (error) {
      this.#context.log(`${(error as Error).message}; after a restart the running hold could not go on`)
    }
  }

  #finish(hold: RunningHoldState, remark: string | null): void {
    this.#hold = null
    this.#lastEndS = hold.machine.startedS
    this.#context.channels().stopCollecting()
    this.#context.thread.end()
    const name = this.#context.recording.rotate() ?? ''
    this.sealer.add(hold.note(name), remark)
  }
}
