import { join } from 'node:path'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import { RecordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording, type RecordingWriter } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { NewSessionMark, SessionMarks } from './session-marks.ts'

/** Before a file that could not be made is tried again, [ms]. */
const tryAgainMs = 1000

/**
 * The recordings of one session, one file after another: a hold's file ends with the hold, and the next line begins
 * the next file. A disk that refuses is told once and never stops the readings; what it does not take is kept, by the
 * writer or, while no file can be made, here. More than that keeps is counted and marked as a gap.
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
  readonly #waiting: WaitingLines
  /** Name of the file that lines go into now, made or not; null before the first line of the next one. */
  #name: string | null = null
  #openFault: RecordingFault | null = null
  #triedAtMs = Number.NEGATIVE_INFINITY
  /** Telling of trouble brings marks of its own: they wait for their turn. */
  #isWriting = false
  #told = false

  constructor(folder: string, waiting = new WaitingLines()) {
    this.folder = folder
    this.#waiting = waiting
  }

  /** File name of the running recording; null before its first line. */
  get name(): string | null {
    return this.#name
  }

  /** Why the disk refuses; null while all is well. */
  get trouble(): string | null {
    const faults = [this.#openFault, this.#writer?.fault, ...this.#ended.map(({ fault }) => fault)]
    const message = faults.find((fault) => fault)?.message
    if (message === undefined) return null
    const lost = this.#waiting.lost + (this.#writer?.lost ?? 0)
    return lost === 0 ? message : `${message}; ${lost} lines are lost by now`
  }

  /** Bytes of the running file that are on their way to the disk; 0 while none is open. */
  get sizeBytes(): number {
    return this.#writer?.sizeBytes ?? 0
  }

  line(line: string, arrival: Arrival = arrivalNow()): void {
    this.#write((writer) => writer.append(line, arrival), line.length)
  }

  comment(text: string): void {
    this.#write((writer) => writer.comment(text), text.length)
  }

  reject(reason: string, bytes: Uint8Array): void {
    this.#write((writer) => writer.reject(reason, bytes), bytes.length)
  }

  mark(mark: NewSessionMark, timeNs: bigint): void {
    const arrival = arrivalNow()
    this.#write((writer) => writer.mark({ ...mark, timeNs }, arrival), 500)
  }

  /** Ends the running file; what comes next goes into a new one. Returns its name, null when nothing was written. */
  rotate(): string | null {
    const name = this.#name
    this.#name = null
    this.clockJump = null
    this.#endWriter()
    return name
  }

  /** Goes on with a file that a killed program left; a half line at its end is closed first. */
  continue(name: string): void {
    this.#writer = this.#open(name)
    this.#name = name
  }

  /** Everything is on the disk when this returns. @throws RecordingFault while the disk refuses */
  sync(): void {
    this.#closeEnded()
    this.#writeWaiting()
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
    this.#writeWaiting()
    this.#name ??= newName()
    this.#writer ??= this.#openNext(this.#name)
    this.#writer.keep(take)
    // A mark among what was taken may have begun the next file.
    this.sync()
  }

  /** Ends the session. Returns how many lines found no place on the disk. */
  close(): number {
    try {
      this.#writeWaiting()
    } catch (error) {
      this.#refused(error)
    }
    this.rotate()
    return this.#waiting.count + this.#waiting.lost
  }

  #closeEnded(): void {
    for (let writer = this.#ended[0]; writer; writer = this.#ended[0]) {
      writer.sync()
      writer.close()
      this.#ended.shift()
    }
  }

  /** No more goes into the file that is open. */
  #endWriter(): void {
    if (!this.#writer) return
    this.#ended.push(this.#writer)
    this.#writer = null
    try {
      this.#closeEnded()
    } catch (error) {
      this.#refused(error)
    }
  }

  #write(write: (writer: RecordingWriter) => void, sizeBytes: number): void {
    this.#name ??= newName()
    try {
      if (this.#writer && this.#waiting.count === 0) write(this.#writer)
      else {
        this.#waiting.add({ name: this.#name, write }, sizeBytes)
        if (this.#openFault && performance.now() - this.#triedAtMs < tryAgainMs) return
        this.#writeWaiting()
      }
      if (this.#waiting.count === 0) this.#told = false
    } catch (error) {
      this.#refused(error)
    }
  }

  /** Makes the files that lines wait for and writes these. @throws RecordingFault when the disk refuses */
  #writeWaiting(): void {
    if (this.#isWriting) return
    this.#isWriting = true
    try {
      this.#writeAll()
    } finally {
      this.#isWriting = false
    }
  }

  #writeAll(): void {
    let refused: RecordingFault | null = null
    for (let line = this.#waiting.first; line; line = this.#waiting.first) {
      if (this.#writer?.name !== line.name) {
        this.#endWriter()
        this.#writer = this.#openNext(line.name)
      }
      refused = keptByWriter(() => line.write(this.#writer!)) ?? refused
      this.#waiting.dropFirst()
    }
    const { lost } = this.#waiting
    if (lost > 0 && this.#writer) {
      const text = `the disk took nothing: the ${lost} lines that came last before this were lost`
      refused = keptByWriter(() => this.#writer!.mark({ kind: 'gap', fields: { lost, text } })) ?? refused
      this.#waiting.forgetLost()
    }
    if (refused) throw refused
  }

  #openNext(name: string): RecordingWriter {
    this.#triedAtMs = performance.now()
    try {
      const writer = this.#open(name)
      this.#openFault = null
      return writer
    } catch (error) {
      if (error instanceof RecordingFault) this.#openFault = error
      throw error
    }
  }

  #open(name: string): RecordingWriter {
    return openRecording(join(this.folder, name), {
      clock: arrivalNow,
      onFault: (fault) => this.#refused(fault),
      onClockJump: (seconds, timeNs) => this.#clockJumped(seconds, timeNs),
    })
  }

  #clockJumped(seconds: number, timeNs: bigint): void {
    this.clockJump = { seconds, atMs: performance.now() }
    this.onClockJump(seconds, timeNs)
  }

  #refused(error: unknown): void {
    if (!(error instanceof RecordingFault)) throw error
    if (this.#told) return
    this.#told = true
    this.onTrouble(error.message)
  }
}

/** A writer that throws has kept what it was given: what follows is to be given to it all the same. */
function keptByWriter(act: () => void): RecordingFault | null {
  try {
    act()
    return null
  } catch (error) {
    if (error instanceof RecordingFault) return error
    throw error
  }
}

function newName(): string {
  return `bench-${new Date().toISOString().replaceAll(/[-:.]/g, '')}.lp`
}

/** As much as the writer itself keeps of what the disk refuses, [bytes]. */
const mostBytes = 16 << 20
/** What an entry costs beside its text, [bytes]. */
const entryBytes = 200

interface WaitingLine {
  /** File name of the recording that it belongs to. */
  readonly name: string
  write(writer: RecordingWriter): void
}

/** What came while no recording could be opened, in its order, up to a bound; what is more is counted. */
export class WaitingLines {
  readonly #mostBytes: number
  #lines: WaitingLine[] = []
  #at = 0
  #bytes = 0
  #lost = 0

  constructor(bound = mostBytes) {
    this.#mostBytes = bound
  }

  get count(): number {
    return this.#lines.length - this.#at
  }

  /** Lines that came when no more could wait, since this was asked to forget them last. */
  get lost(): number {
    return this.#lost
  }

  /** The oldest; null when none waits. */
  get first(): WaitingLine | null {
    return this.#lines[this.#at] ?? null
  }

  /** @param sizeBytes about how much it keeps in memory */
  add(line: WaitingLine, sizeBytes: number): void {
    if (this.#bytes + sizeBytes + entryBytes > this.#mostBytes) {
      this.#lost++
      return
    }
    this.#lines.push(line)
    this.#bytes += sizeBytes + entryBytes
  }

  /** The oldest is written. */
  dropFirst(): void {
    this.#at++
    if (this.first !== null) return
    this.#lines = []
    this.#at = 0
    this.#bytes = 0
  }

  /** The lost ones are told. */
  forgetLost(): void {
    this.#lost = 0
  }
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
