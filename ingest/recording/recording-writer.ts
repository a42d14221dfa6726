import { basename } from 'node:path'
import type { MarkMaker } from '#analysis/model/origin.ts'
import type { MarkKind } from '#analysis/model/samples.ts'
import { formatPoint, type PointToFormat } from '#ingest/line-protocol/format-point.ts'
import { longestLineBytes } from '#ingest/line-protocol/line-blocks.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import { ClockWatch } from './clock-watch.ts'
import { DurableFile } from './durable-file.ts'
import { markMeasurement } from './mark-from-point.ts'
import { RecordingFault } from './recording-fault.ts'
import { recordingHeader } from './recording-header.ts'
import { rejectedLine } from './rejected-line.ts'
import { isWholeLine } from './whole-line.ts'

export interface RecordingOptions {
  /** Current time of both clocks, for marks and lines without an arrival. */
  readonly clock: () => Arrival
  /** Called when a background write or sync fails; waiting lines are kept and retried. */
  readonly onFault?: (fault: RecordingFault) => void
  /** Retry when the file cannot be created, as for a failed write; lines are kept meanwhile. */
  readonly waits?: boolean
  /** Called when this computer's clock has jumped; the recording has a mark of it. */
  readonly onClockJump?: (seconds: number, timeNs: bigint) => void
}

/** A mark to write. */
export interface MarkToWrite {
  readonly kind: MarkKind
  readonly id?: string | null
  readonly hold?: string | null
  /** Absent for the program's own marks. */
  readonly from?: MarkMaker
  readonly fields: Readonly<Record<string, number | bigint | string | boolean>>
  /** Epoch nanoseconds; the arrival time when left out. */
  readonly timeNs?: bigint | string
}

/**
 * Opens a recording for appending, or creates it. A half last line from a kill or a power cut is closed as a `#!`
 * comment, so that it never joins the next line.
 *
 * @throws RecordingFault when it cannot be opened or is not a recording
 */
export function openRecording(path: string, options: RecordingOptions): RecordingWriter {
  return new RecordingWriter(path, options)
}

/**
 * The append-only file of one session: written at once, flushed to the disk each second and at every mark.
 *
 * Every method throws a RecordingFault while writes fail. The line is kept and retried at the next call and each
 * second, from the byte where the write stopped: it must not be appended again. `keep` is the exception.
 */
export class RecordingWriter {
  readonly path: string
  readonly name: string
  readonly #file: DurableFile
  readonly #clock: () => Arrival
  readonly #watch = new ClockWatch()
  readonly #onClockJump: (seconds: number, timeNs: bigint) => void

  constructor(path: string, options: RecordingOptions) {
    this.path = path
    this.name = basename(path)
    this.#clock = options.clock
    this.#onClockJump = options.onClockJump ?? (() => {})
    const lostLine = (lost: number) => {
      const text = `the disk took nothing: the ${lost} lines that came last before this were lost`
      return `${markLine({ kind: 'gap', fields: { lost, text } }, this.#watch.at(this.#clock()).timeNs)}\n`
    }
    this.#file = new DurableFile(path, options.onFault ?? (() => {}), lostLine, options.waits)
    try {
      closeHalfLine(this.#file)
      if (this.#file.sizeBytes === 0) {
        this.#file.append(`${recordingHeader}\n`)
        this.#file.sync()
      }
    } catch (error) {
      if (options.waits && error instanceof RecordingFault) options.onFault?.(error)
      else {
        this.#closeQuietly()
        throw error
      }
    }
  }

  /** Why the last write failed; null after a success. */
  get fault(): RecordingFault | null {
    return this.#file.fault
  }

  /** Lines lost because too many waited while writes failed, not yet noted in the file. */
  get lost(): number {
    return this.#file.lost
  }

  get sizeBytes(): number {
    return this.#file.sizeBytes
  }

  /**
   * A sample. One without a time gets its arrival time.
   *
   * @param line a point, or a checked line of line protocol without its line end
   */
  append(line: PointToFormat | string, arrival: Arrival = this.#clock()): void {
    const timeNs = this.#arrived(arrival)
    if (typeof line === 'string') {
      this.#file.append(endsWithTime.test(line) ? `${line}\n` : `${line} ${timeNs}\n`)
    } else {
      this.#file.append(`${formatPoint({ ...line, timeNs: line.timeNs ?? timeNs })}\n`)
    }
  }

  /** A mark; it is on the disk when this returns. */
  mark(mark: MarkToWrite, arrival: Arrival = this.#clock()): void {
    this.#file.append(`${markLine(mark, this.#arrived(arrival))}\n`)
    this.#file.sync()
  }

  /** Bytes that could not be parsed, and why. */
  reject(reason: string, bytes: Uint8Array): void {
    this.#file.append(`${rejectedLine(reason, bytes)}\n`)
  }

  /** A comment from the logger; the `#` is added when it is missing. */
  comment(text: string): void {
    const clean = text.replace(/[\0-\x08\x0a-\x1f\x7f]+/g, ' ').replace(/^#!/, '# !')
    this.#file.append(clean.startsWith('#') ? `${clean}\n` : `# ${clean}\n`)
  }

  /** Everything is on the disk when this returns. */
  sync(): void {
    this.#file.sync()
  }

  /**
   * Transaction: the lines of `append` are on the disk when this returns, or none of them stays in the recording.
   *
   * @throws RecordingFault when a write fails: the lines may be appended again
   */
  keep(append: () => void): void {
    // A clock jump up to now stays in the recording even when `append` fails.
    this.#arrived(this.#clock())
    this.#file.keep(append)
  }

  close(): void {
    this.#file.close()
  }

  /** Time of an arrival; a clock jump is written before it. */
  #arrived(arrival: Arrival): bigint {
    const { timeNs, jumpedNs } = this.#watch.at(arrival)
    if (jumpedNs === 0n) return timeNs
    const jumpS = Number(jumpedNs) / 1e9
    const text = `the clock jumped by ${jumpS.toFixed(3)} s: it was set, or the computer slept`
    this.#file.append(`${markLine({ kind: 'clock', fields: { jump_s: jumpS, text } }, timeNs)}\n`)
    this.#onClockJump(jumpS, timeNs)
    this.#file.sync()
    return this.#watch.at(arrival).timeNs
  }

  #closeQuietly(): void {
    try {
      this.#file.close()
    } catch {
      // The original error is the one to report.
    }
  }
}

const endsWithTime = / -?\d+\s*$/

/** The line of a mark. Line breaks in its text become spaces: a recording is read and recovered line by line. */
export function markLine({ kind, id, hold, from, fields, timeNs }: MarkToWrite, arrivedNs: bigint): string {
  const tags: Record<string, string> = { kind }
  if (from !== undefined) tags.from = from
  if (hold !== null && hold !== undefined) tags.hold = hold
  if (id !== null && id !== undefined) tags.id = id
  const written = Object.entries(fields).map(([key, value]) => [
    key,
    typeof value === 'string' ? value.replace(/\s*[\r\n]+\s*/g, ' ') : value,
  ])
  return formatPoint({
    measurement: markMeasurement,
    tags,
    fields: written.length > 0 ? Object.fromEntries(written) : { text: '' },
    timeNs: timeNs ?? arrivedNs,
  })
}

/**
 * Prepares a recording that ends in mid-line for appending. A whole line gets its line end; a half one becomes the
 * comment `#! cut line: …`, which keeps all its bytes and so is never shorter.
 *
 * @throws RecordingFault when the file is not a recording
 */
function closeHalfLine(file: DurableFile): void {
  if (file.sizeBytes === 0) return
  const header = `${recordingHeader}\n`
  const beginning = file.read(0, header.length + 1).toString('utf8')
  if (beginning.length < header.length && header.startsWith(beginning)) {
    file.replaceEnd(0, header)
    return
  }
  if (!/^# stillhold recording 1\r?\n/.test(beginning)) {
    const cause = `its first line is not "${recordingHeader}"`
    throw new RecordingFault('not-a-recording', 'open', file.path, 'choose another name', cause)
  }
  const from = lastLineAt(file)
  if (from === file.sizeBytes) return
  const half = file.read(from, file.sizeBytes)
  const text = half.toString('utf8')
  if (isWholeLine(text)) file.replaceEnd(file.sizeBytes, '\n')
  else file.replaceEnd(from, `${rejectedLine('cut line', half)}\n`)
}

/** Start of the last line; the size of the file when it ends with a line end. */
function lastLineAt(file: DurableFile): number {
  for (let to = file.sizeBytes; to > 0; to -= longestLineBytes) {
    const from = Math.max(0, to - longestLineBytes)
    const newlineAt = file.read(from, to).lastIndexOf('\n')
    if (newlineAt !== -1) return from + newlineAt + 1
  }
  return 0
}
