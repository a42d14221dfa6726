import { join } from 'node:path'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import { RecordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording, type RecordingWriter } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { NewSessionMark, SessionMarks } from './session-marks.ts'

/** Before what could not be ended is tried again, [ms]. */
const tryAgainMs = 1000

/**
 * The recordings of one session, one file after another: a hold's file ends with the hold, and the next line begins
 * the next file. A disk that refuses is told once and never stops the readings; what it does not take is kept by the
 * writer of its file.
 */
export class SessionRecording {
  readonly folder: string
  /** Told when the disk begins to refuse. */
  onTrouble: (message: string) => void = () => {}
  /** Told when this computer's clock jumped. */
  onClockJump: (seconds: number, timeNs: bigint) => void = () => {}
  /** Newest jump of this computer's clock in the running file; a hold in it proves nothing. */
  clockJump: { readonly seconds: number; readonly atMs: number } | null = null
  #writer: RecordingWriter | null = null
  /** Ended files that could not be forced to the disk yet. */
  #ended: RecordingWriter[] = []
  #triedAtMs = Number.NEGATIVE_INFINITY
  #told = false

  constructor(folder: string) {
    this.folder = folder
  }

  /** File name of the running recording; null before its first line. */
  get name(): string | null {
    return this.#writer?.name ?? null
  }

  /** Why the disk refuses; null while all is well. */
  get trouble(): string | null {
    const writers = [...(this.#writer ? [this.#writer] : []), ...this.#ended]
    const message = writers.find(({ fault }) => fault)?.fault?.message
    if (message === undefined) return null
    const lost = writers.reduce((sum, writer) => sum + writer.lost, 0)
    return lost === 0 ? message : `${message}; ${lost} lines are lost by now`
  }

  /** Bytes of the running file that are on their way to the disk; 0 while none is open. */
  get sizeBytes(): number {
    return this.#writer?.sizeBytes ?? 0
  }

  line(line: string, arrival: Arrival = arrivalNow()): void {
    this.#write((writer) => writer.append(line, arrival))
  }

  comment(text: string): void {
    this.#write((writer) => writer.comment(text))
  }

  reject(reason: string, bytes: Uint8Array): void {
    this.#write((writer) => writer.reject(reason, bytes))
  }

  mark(mark: NewSessionMark, timeNs: bigint): void {
    const arrival = arrivalNow()
    this.#write((writer) => writer.mark({ ...mark, timeNs }, arrival))
  }

  /** Ends the running file; what comes next goes into a new one. Returns its name, null when nothing was written. */
  rotate(): string | null {
    const { name } = this
    if (this.#writer) this.#ended.push(this.#writer)
    this.#writer = null
    this.clockJump = null
    this.#tryEnd()
    return name
  }

  /** Goes on with a file that a killed program left; a half line at its end is closed first. */
  continue(name: string): void {
    this.#writer = this.#open(name, false)
  }

  /** Everything is on the disk when this returns. @throws RecordingFault while the disk refuses */
  sync(): void {
    this.#closeEnded()
    this.#writer?.sync()
  }

  /**
   * What `take` writes is on the disk when this returns. When the disk refuses, what went into the running file is taken
   * back, so that whoever sent it may send it again.
   *
   * @throws RecordingFault while the disk refuses
   */
  keep(take: () => void): void {
    this.#closeEnded()
    this.#writer ??= this.#open(newName(), true)
    this.#writer.keep(take)
    // A mark among what was taken may have begun the next file.
    this.sync()
  }

  /** Ends the session; `trouble` then says whether lines found no place on the disk. */
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
      if (this.#ended.length === 0) this.#told = false
    } catch (error) {
      this.#refused(error)
    }
  }

  #open(name: string, waits: boolean): RecordingWriter {
    return openRecording(join(this.folder, name), {
      clock: arrivalNow,
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
    if (this.#told) return
    this.#told = true
    this.onTrouble(error.message)
  }
}

function newName(): string {
  return `bench-${new Date().toISOString().replaceAll(/[-:.]/g, '')}.lp`
}

/** A recording without a hold is ended after this bench time, [s]. */
const oldAfterS = 1800
/** One with marks, which the next hold needs, is ended when it has grown to this as well, [bytes]: 18 hours at 1 kB/s. */
const largeBytes = 64e6

/** What a person does at the bench between holds: it belongs into the recording of the hold that comes after it. */
const byHand: readonly MarkKind[] = ['valve', 'work', 'look', 'zero', 'plug', 'fill', 'stroke', 'correction']

/**
 * Ends recordings in which no hold runs, so that the recording of a hold, which is sealed, read and printed in whole,
 * stays small however long the session is.
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
   * To be called now and then while no hold runs. Marks made by hand since the last hold are written at the head of the
   * next recording again, at their own time.
   *
   * @param nowS bench time; @param lastHoldEndedS when a hold ended its recording last, minus infinity before
   */
  endWhenOld(nowS: number, lastHoldEndedS: number): void {
    this.#beganS = Math.max(this.#beganS, lastHoldEndedS)
    if (nowS < this.#beganS) this.#beganS = nowS
    if (nowS - this.#beganS < oldAfterS) return
    const carried = this.#marks.since(lastHoldEndedS + 1e-6).filter(isByHand)
    const newest = carried.at(-1)
    // Work that goes on, such as filling a tank step by step, stays in one file.
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

/** Notes of the program's own name the port that they are about. */
function isByHand({ kind, fields }: Mark): boolean {
  return byHand.includes(kind) || (kind === 'note' && fields.port === undefined)
}
