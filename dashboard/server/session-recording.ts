import { join } from 'node:path'
import { RecordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording, type RecordingWriter } from '#ingest/recording/recording-writer.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { NewSessionMark } from './session-marks.ts'

/** Before a file that could not be made is tried again, [ms]. */
const tryAgainMs = 1000

/**
 * The recordings of one session, one file after another: a hold's file ends with the hold, and the next line begins
 * the next file. A disk that refuses is told once and never stops the readings; the writer keeps what it could not
 * write and tries on.
 */
export class SessionRecording {
  readonly folder: string
  /** Told when the disk begins to refuse. */
  onTrouble: (message: string) => void = () => {}
  #writer: RecordingWriter | null = null
  /** Ended files that could not be forced to the disk yet. */
  #ended: RecordingWriter[] = []
  #openFault: RecordingFault | null = null
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
    const faults = [this.#openFault, this.#writer?.fault, ...this.#ended.map(({ fault }) => fault)]
    return faults.find((fault) => fault)?.message ?? null
  }

  line(line: string, arrival?: Arrival): void {
    this.#write((writer) => writer.append(line, arrival))
  }

  comment(text: string): void {
    this.#write((writer) => writer.comment(text))
  }

  reject(reason: string, bytes: Uint8Array): void {
    this.#write((writer) => writer.reject(reason, bytes))
  }

  mark(mark: NewSessionMark, timeNs: bigint): void {
    this.#write((writer) => writer.mark({ ...mark, timeNs }))
  }

  /** Ends the running file; what comes next goes into a new one. Returns its name, null when nothing was written. */
  rotate(): string | null {
    const ended = this.#writer
    this.#writer = null
    if (!ended) return null
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
    this.#writer?.sync()
  }

  close(): void {
    this.rotate()
  }

  #closeEnded(): void {
    for (let writer = this.#ended[0]; writer; writer = this.#ended[0]) {
      writer.sync()
      writer.close()
      this.#ended.shift()
    }
  }

  #write(act: (writer: RecordingWriter) => void): void {
    try {
      if (!this.#writer) {
        if (this.#openFault && performance.now() - this.#triedAtMs < tryAgainMs) return
        this.#triedAtMs = performance.now()
        this.#writer = this.#open(newName())
        this.#openFault = null
      }
      act(this.#writer)
      this.#told = false
    } catch (error) {
      if (!this.#writer && error instanceof RecordingFault) this.#openFault = error
      this.#refused(error)
    }
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

function newName(): string {
  return `bench-${new Date().toISOString().replaceAll(/[-:.]/g, '')}.lp`
}
