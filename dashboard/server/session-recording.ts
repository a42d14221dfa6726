import { join } from 'node:path'
import { RecordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording, type RecordingWriter } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { NewSessionMark } from './session-marks.ts'
import { WaitingLines } from './waiting-lines.ts'

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
  #writer: RecordingWriter | null = null
  /** Ended files that could not be forced to the disk yet. */
  #ended: RecordingWriter[] = []
  readonly #waiting: WaitingLines
  /** Name of the file that is to be made, while something waits for it. */
  #coming: string | null = null
  #openFault: RecordingFault | null = null
  #triedAtMs = Number.NEGATIVE_INFINITY
  #told = false

  constructor(folder: string, waiting = new WaitingLines()) {
    this.folder = folder
    this.#waiting = waiting
  }

  /** File name of the running recording; null before its first line. */
  get name(): string | null {
    return this.#writer?.name ?? this.#coming
  }

  /** Why the disk refuses; null while all is well. */
  get trouble(): string | null {
    const faults = [this.#openFault, this.#writer?.fault, ...this.#ended.map(({ fault }) => fault)]
    const message = faults.find((fault) => fault)?.message
    if (message === undefined) return null
    const lost = this.#waiting.lost + (this.#writer?.lost ?? 0)
    return lost === 0 ? message : `${message}; ${lost} lines are lost by now`
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

  /**
   * Ends the running file; what comes next goes into a new one. Returns its name, null when nothing was written. A file
   * that could not even be made goes on: what waits for it and what comes next share it.
   */
  rotate(): string | null {
    const ended = this.#writer
    if (!ended) return this.#coming
    this.#writer = null
    this.#ended.push(ended)
    try {
      this.#closeEnded()
    } catch (error) {
      this.#refused(error)
    }
    return ended.name
  }

  /** Goes on with a file that a killed program left; a half line at its end is closed first. */
  continue(name: string): void {
    this.#writer = this.#open(name)
  }

  /** Everything is on the disk when this returns. @throws RecordingFault while the disk refuses */
  sync(): void {
    this.#closeEnded()
    if (!this.#waiting.isEmpty) this.#openWriter()
    this.#writer?.sync()
  }

  /** Ends the session. Returns how many lines found no place on the disk. */
  close(): number {
    try {
      if (!this.#waiting.isEmpty) this.#openWriter()
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

  #write(act: (writer: RecordingWriter) => void, sizeBytes: number): void {
    try {
      if (!this.#writer) {
        this.#waiting.add(act, sizeBytes)
        if (!this.#openFault || performance.now() - this.#triedAtMs >= tryAgainMs) this.#openWriter()
        return
      }
      act(this.#writer)
      this.#told = false
    } catch (error) {
      this.#refused(error)
    }
  }

  /** Makes the next file and writes into it what waits. @throws RecordingFault when the disk refuses */
  #openWriter(): void {
    this.#coming ??= newName()
    if (!this.#writer) {
      this.#triedAtMs = performance.now()
      try {
        this.#writer = this.#open(this.#coming)
      } catch (error) {
        if (error instanceof RecordingFault) this.#openFault = error
        throw error
      }
    }
    this.#openFault = null
    this.#coming = null
    const { entries, lost } = this.#waiting.take()
    let refused: unknown = null
    for (const entry of entries) refused = keptByWriter(() => entry(this.#writer!)) ?? refused
    if (lost > 0) {
      const text = `the disk took nothing: the ${lost} lines that came last before this were lost`
      const gap = { kind: 'gap' as const, fields: { lost, text } }
      refused = keptByWriter(() => this.#writer!.mark(gap)) ?? refused
    }
    if (refused) throw refused
    this.#told = false
  }

  #open(name: string): RecordingWriter {
    return openRecording(join(this.folder, name), {
      clock: arrivalNow,
      onFault: (fault) => this.#refused(fault),
    })
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
