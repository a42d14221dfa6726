import { join } from 'node:path'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import { RecordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording, type RecordingWriter } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { NewSessionMark, SessionMarks } from './session-marks.ts'

/** Delay before another attempt to end a file, [ms]. */
const tryAgainMs = 1000

/**
 * The recordings of one session, one file after another: a hold's file ends with the hold, and the next line begins
 * a new file. A disk fault is reported once and never stops the readings; the file's writer keeps unwritten
 * lines.
 */
export class SessionRecording {
  readonly folder: string
  readonly #clock: () => Arrival
  /** Called when the disk begins to refuse. */
  onTrouble: (message: string) => void = () => {}
  /** Called when this computer's clock jumped. */
  onClockJump: (seconds: number, timeNs: bigint) => void = () => {}
  /** Newest jump of this computer's clock in the running file; a hold in it proves nothing. */
  clockJump: { readonly seconds: number; readonly atMs: number } | null = null
  #writer: RecordingWriter | null = null
  /** Ended files not yet flushed to the disk. */
  #ended: RecordingWriter[] = []
  #triedAtMs = Number.NEGATIVE_INFINITY
  #isReported = false

  /** @param clock both clocks of this computer; for tests */
  constructor(folder: string, clock = arrivalNow) {
    this.folder = folder
    this.#clock = clock
  }

  /** File name of the running recording; null before its first line. */
  get name(): string | null {
    return this.#writer?.name ?? null
  }

  /** Why the disk refuses; null without a fault. */
  get trouble(): string | null {
    const writers = [...(this.#writer ? [this.#writer] : []), ...this.#ended]
    const message = writers.find(({ fault }) => fault)?.fault?.message
    if (message === undefined) return null
    const lost = writers.reduce((sum, writer) => sum + writer.lost, 0)
    return lost === 0 ? message : `${message}; ${lost} lines are lost so far`
  }

  /** Bytes of the running file not yet on the disk; 0 while none is open. */
  get sizeBytes(): number {
    return this.#writer?.sizeBytes ?? 0
  }

  line(line: string, arrival: Arrival = this.#clock()): void {
    this.#write((writer) => writer.append(line, arrival))
  }

  comment(text: string): void {
    this.#write((writer) => writer.comment(text))
  }

  reject(reason: string, bytes: Uint8Array): void {
    this.#write((writer) => writer.reject(reason, bytes))
  }

  mark(mark: NewSessionMark, timeNs: bigint): void {
    const arrival = this.#clock()
    this.#write((writer) => writer.mark({ ...mark, timeNs }, arrival))
  }

  /** Ends the running file; later lines go into a new one. Returns its name, null when nothing was written. */
  rotate(): string | null {
    const { name } = this
    if (this.#writer) this.#ended.push(this.#writer)
    this.#writer = null
    this.clockJump = null
    this.#tryEnd()
    return name
  }

  /** Continues a file that a killed program left; a half line at its end is closed first. */
  continue(name: string): void {
    this.#writer = this.#open(name, false)
  }

  /** On return everything is on the disk. @throws RecordingFault while the disk refuses */
  sync(): void {
    this.#closeEnded()
    this.#writer?.sync()
  }

  /**
   * On return the lines that `take` writes are on the disk. When the disk refuses, the running file is rolled
   * back, so that the sender may send again.
   *
   * @throws RecordingFault while the disk refuses
   */
  keep(take: () => void): void {
    this.#closeEnded()
    this.#writer ??= this.#open(newName(), true)
    this.#writer.keep(take)
    // A mark in the batch may have begun the next file.
    this.sync()
  }

  /** Ends the session; `trouble` then reports whether lines could not be saved. */
  close(): void {
    this.rotate()
  }

  #closeEnded(): void {
    this.#triedAtMs = performance.now()
    for (let writer = this.#ended[0]; writer; writer = this.#ended[0]) {
      writer.sync()
      writer.close()
      this.#ended.shift()
    }
  }

  #tryEnd(): void {
    try {
      this.#closeEnded()
    } catch (error) {
      this.#refused(error)
    }
  }

  #write(write: (writer: RecordingWriter) => void): void {
    if (this.#ended.length > 0 && performance.now() - this.#triedAtMs > tryAgainMs) this.#tryEnd()
    this.#writer ??= this.#open(newName(), true)
    try {
      write(this.#writer)
      if (this.#ended.length === 0) this.#isReported = false
    } catch (error) {
      this.#refused(error)
    }
  }

  #open(name: string, waits: boolean): RecordingWriter {
    return openRecording(join(this.folder, name), {
      clock: this.#clock,
      waits,
      onFault: (fault) => this.#refused(fault),
      onClockJump: (seconds, timeNs) => {
        this.clockJump = { seconds, atMs: performance.now() }
        this.onClockJump(seconds, timeNs)
      },
    })
  }

  #refused(error: unknown): void {
    if (!(error instanceof RecordingFault)) throw error
    if (this.#isReported) return
    this.#isReported = true
    this.onTrouble(error.message)
  }
}

function newName(): string {
  return `bench-${new Date().toISOString().replaceAll(/[-:.]/g, '')}.lp`
}

/** A recording without a hold ends after this bench time, [s]. */
const oldAfterS = 1800
/** With marks, which the next hold needs, it must also reach this size, [bytes]: 18 hours at 1 kB/s. */
const largeBytes = 64e6

/** Marks of a person between holds: they belong into the recording of the next hold. */
const byHand: readonly MarkKind[] = ['valve', 'work', 'look', 'zero', 'plug', 'fill', 'stroke', 'correction']

/**
 * Ends recordings without a running hold. The recording of a hold is sealed, read and printed in whole, so it must
 * stay small in a session of any length.
 */
export class IdleRecording {
  readonly #recording: Pick<SessionRecording, 'rotate' | 'mark' | 'sizeBytes'>
  readonly #marks: Pick<SessionMarks, 'since'>
  #beganS = 0

  constructor(
    recording: Pick<SessionRecording, 'rotate' | 'mark' | 'sizeBytes'>,
    marks: Pick<SessionMarks, 'since'>,
  ) {
    this.#recording = recording
    this.#marks = marks
  }

  /**
   * To be called regularly while no hold runs. Marks made by hand since the last hold are copied to the head of the
   * next recording, at their own time.
   *
   * @param nowS bench time; @param lastHoldEndedS when a hold last ended its recording, minus infinity before
   */
  endWhenOld(nowS: number, lastHoldEndedS: number): void {
    this.#beganS = Math.max(this.#beganS, lastHoldEndedS)
    if (nowS < this.#beganS) this.#beganS = nowS
    if (nowS - this.#beganS < oldAfterS) return
    const carried = this.#marks.since(lastHoldEndedS + 1e-6).filter(isByHand)
    const newest = carried.at(-1)
    // Continuing work, such as filling a tank step by step, stays in one file.
    const goesOn = newest !== undefined && nowS - newest.timeS < oldAfterS
    if (goesOn || (newest !== undefined && this.#recording.sizeBytes < largeBytes)) return
    this.#recording.rotate()
    this.#beganS = nowS
    for (const { kind, id, from, fields, timeNs } of carried)
      this.#recording.mark(
        { kind, fields, ...(id !== null && { id }), ...(from && { from }) },
        BigInt(timeNs),
      )
  }
}

/** Notes of the program name the port that they refer to. */
function isByHand({ kind, fields }: Mark): boolean {
  return byHand.includes(kind) || (kind === 'note' && fields.port === undefined)
}
