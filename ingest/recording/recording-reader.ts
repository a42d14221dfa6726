import type { ChannelSamples, Mark, Recording, RecordingDamage } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { SequenceWatch, sequenceFields } from '#ingest/intake/sequence.ts'
import type { Column } from '#ingest/line-protocol/column.ts'
import { type ColumnListener, ColumnReader, type WantedField } from '#ingest/line-protocol/column-reader.ts'
import type { Point, Refusal } from '#ingest/line-protocol/point.ts'
import { applyZeroMarks } from './apply-zero-marks.ts'
import { withoutCorrected } from './corrected-marks.ts'
import { markFromPoint, markMeasurement } from './mark-from-point.ts'
import { numbersInOrder } from './numbers-in-order.ts'
import { recordingHeader, rejectedPrefix } from './recording-header.ts'
import type { RecordingProblem } from './recording-problem.ts'
import { scaleColumn, type TimedNumbers } from './scale-column.ts'
import { UnreadableFile } from './unreadable-file.ts'
import { isWholeLine } from './whole-line.ts'

/** A recording and its problems. */
export interface RecordingRead extends Recording {
  readonly problems: readonly RecordingProblem[]
}

export interface ReadOptions {
  /** Leaves captures of zero unapplied: for a caller that applies them itself. */
  readonly asRead?: boolean
}

/** Control characters other than tab and the return before a line end. */
const controls = /[\0-\x08\x0b\x0c\x0e-\x1f\x7f]/

/** Refused lines reported one by one; further ones are only counted. */
const refusalsShownAtMost = 20

/**
 * Reads a recording in chunks into columns; only the columns take memory.
 * `push` the bytes in order, then `finish` once.
 */
export class RecordingReader {
  readonly #name: string
  readonly #system: System
  readonly #asRead: boolean
  readonly #columns: ColumnReader
  /** Column index of each channel's rail. */
  readonly #railOf = new Map<Channel, number>()
  readonly #marks: { readonly point: Point & { timeNs: string }; readonly line: number }[] = []
  readonly #problems: RecordingProblem[] = []
  readonly #sequence = new SequenceWatch()
  readonly #notNumbers: { count: number; line: number }[]
  readonly #clockJumps: { timeS: number; seconds: number }[] = []
  #hasHeader = false
  #foreignHeader: string | null = null
  #rejectedOnArrival = 0
  #refused = 0
  /** Unreadable bytes that no logger sends in text: zeros from a disk, not a garbled line. */
  #hasControls = false
  #afterS = Number.NEGATIVE_INFINITY
  #firstRefusal: Refusal | null = null
  #bytes = 0

  /** @param totalBytes length of the whole file if known */
  constructor(system: System, name: string, totalBytes?: number, { asRead = false }: ReadOptions = {}) {
    this.#name = name
    this.#system = system
    this.#asRead = asRead
    const wanted: WantedField[] = system.channels.map(({ from }) => from)
    for (const channel of system.channels) {
      if (channel.scale?.kind !== 'ratiometric') continue
      this.#railOf.set(channel, wanted.length)
      wanted.push(channel.scale.rail)
    }
    this.#notNumbers = wanted.map(() => ({ count: 0, line: 0 }))
    const listener: ColumnListener = {
      other: (point, line) => this.#other(point, line),
      refused: (refusal, bytes) => {
        this.#hasControls ||= controls.test(Buffer.from(bytes).toString('latin1'))
        this.#refuse(refusal, 'refused-line')
      },
      comment: (text, line) => this.#comment(text, line),
      notANumber: (column, line) => {
        const seen = this.#notNumbers[column]
        if (seen && seen.count++ === 0) seen.line = line
      },
      sequence: (series, number) => this.#sequence.next(series, number),
    }
    this.#columns = new ColumnReader(wanted, listener, { totalBytes, sequenceKeys: sequenceFields })
  }

  push(chunk: Uint8Array): void {
    const bytes = this.#bytes === 0 ? withoutByteOrderMark(chunk) : chunk
    this.#bytes += chunk.length
    this.#columns.push(bytes)
  }

  /**
   * Ends the file.
   *
   * @throws UnreadableFile when it is empty, of another version, or not line protocol
   */
  finish(): RecordingRead {
    this.#closeLastLine()
    const { baseNs } = this.#columns
    this.#refuseForeign(baseNs)
    const earliestS = this.#earliestS(baseNs)
    const startNs = (baseNs ?? 0n) + BigInt(Math.round(earliestS * 1e9))
    const marks = this.#readMarks(startNs)
    const channels = this.#readChannels(earliestS, marks)
    const jumps = this.#clockJumps
    this.#warnOfCalibration(startNs)
    this.#reportCounts()
    return {
      name: this.#name,
      startNs: String(startNs),
      channels,
      marks,
      rejectedLines: this.#rejectedOnArrival + this.#refused,
      missingSequence: this.#sequence.missing,
      ...(jumps.length > 0 ? { clockJumps: jumps } : {}),
      ...this.#damage(earliestS),
      problems: this.#problems,
    }
  }

  #closeLastLine(): void {
    const half = this.#columns.takeHalf()
    if (half.length === 0) return
    const text = Buffer.from(half).toString('utf8')
    if (isWholeLine(text)) {
      this.#columns.push(half)
      this.#columns.push(Buffer.from('\n'))
      this.#columns.end()
      return
    }
    const line = this.#columns.line + text.split('\n').length - 1
    this.#refuse({ line, column: 1, cause: 'the last line ends in the middle' }, 'cut-last-line')
  }

  #refuseForeign(baseNs: bigint | null): void {
    if (this.#foreignHeader !== null) {
      throw new UnreadableFile(
        this.#name,
        1,
        `"${this.#foreignHeader}" is not read by this program, which reads version 1`,
      )
    }
    if (this.#bytes === 0) throw new UnreadableFile(this.#name, null, 'is empty')
    if (baseNs === null && this.#firstRefusal !== null && !this.#hasHeader) {
      const { line, column, cause } = this.#firstRefusal
      throw new UnreadableFile(this.#name, line, `no line is line protocol; column ${column}: ${cause}`)
    }
    if (this.#hasHeader) return
    const message = `the first line is not "${recordingHeader}"; read as plain line protocol`
    this.#problems.unshift({ code: 'no-header', line: 1, message })
  }

  #other(point: Point, line: number): void {
    if (point.measurement === markMeasurement && point.timeNs !== null) {
      this.#marks.push({ point: point as Point & { timeNs: string }, line })
    }
  }

  #comment(text: string, line: number): void {
    if (text.startsWith(rejectedPrefix)) this.#rejectedOnArrival++
    else if (line === 1 && text.trimEnd() === recordingHeader) this.#hasHeader = true
    else if (line === 1 && /^# stillhold recording \S+$/.test(text.trimEnd()))
      this.#foreignHeader = text.trimEnd()
  }

  #refuse(refusal: Refusal, code: 'refused-line' | 'cut-last-line'): void {
    if (this.#firstRefusal === null) {
      this.#firstRefusal = refusal
      this.#afterS = this.#newestS()
    }
    this.#refused++
    if (this.#refused > refusalsShownAtMost) return
    const { line, column, cause } = refusal
    this.#problems.push({ code, line, message: `column ${column}: ${cause}` })
  }

  /** Newest time read so far, [s] from the first point. */
  #newestS(): number {
    const { baseNs, columns } = this.#columns
    let newestS = Number.NEGATIVE_INFINITY
    for (const { count, axis } of columns)
      if (count > 0) newestS = Math.max(newestS, axis.timeS[count - 1] ?? newestS)
    const mark = this.#marks.at(-1)
    return mark === undefined ? newestS : Math.max(newestS, Number(BigInt(mark.point.timeNs) - baseNs!) / 1e9)
  }

  /**
   * A file with the header or with marks was whole when written: an unreadable line may have been a mark. Plain line
   * protocol with samples only comes from a logger: a garbled line is a missing sample.
   */
  #damage(earliestS: number): { damage: RecordingDamage } | null {
    if (this.#firstRefusal === null) return null
    if (!this.#hasHeader && this.#marks.length === 0 && !this.#hasControls) return null
    const { line } = this.#firstRefusal
    return { damage: { line, lines: this.#refused, afterS: this.#afterS - earliestS } }
  }

  /** Time of the earliest point relative to the first line: zero, or negative when lines came out of order. */
  #earliestS(baseNs: bigint | null): number {
    let earliest = 0
    for (const { point } of this.#marks)
      earliest = Math.min(earliest, Number(BigInt(point.timeNs) - baseNs!) / 1e9)
    for (const { earliestS } of this.#columns.columns) earliest = Math.min(earliest, earliestS)
    return earliest
  }

  #readMarks(startNs: bigint): Mark[] {
    const marks: Mark[] = []
    for (const { point, line } of this.#marks) {
      const mark = markFromPoint(point, startNs)
      if (mark !== null) marks.push(mark)
      else {
        const kind = point.tags.kind === undefined ? 'no kind' : `the unknown kind "${point.tags.kind}"`
        this.#problems.push({ code: 'unknown-mark', line, message: `a mark of ${kind} is not used` })
      }
    }
    return withoutCorrected(marks.sort((a, b) => a.timeS - b.timeS))
  }

  #readChannels(earliestS: number, marks: readonly Mark[]): ChannelSamples[] {
    const { columns } = this.#columns
    const shifted = new Set<Float64Array>()
    const inOrder = columns.map((column) => numbersInOrder(column, earliestS, shifted, this.#clockJumps))
    return this.#system.channels.map((channel, index) => {
      // The fields of the channels are wanted first, in their order.
      const from = columns[index]!
      this.#reportColumn(channel, from, this.#notNumbers[index]!)
      const rail = this.#railOf.get(channel)
      const railNumbers = rail === undefined ? null : (inOrder[rail] ?? null)
      const scaled = scaleColumn(channel, inOrder[index]!, railNumbers)
      if (scaled.left > 0) {
        const message = `channel ${channel.id}: ${scaled.left} of ${from.count} numbers make no reading by its scale`
        this.#problems.push({ code: 'no-reading', line: null, message })
      }
      if (!this.#asRead) this.#problems.push(...applyZeroMarks(channel, scaled, marks))
      const placed = placedReadings(channel, scaled, marks)
      if (from.count > 0 && channel.section === channel.movable?.places[0])
        this.#reportUnplaced(channel.movable.id, marks)
      return { channel: channel.id, timeS: placed.timeS, reading: placed.values }
    })
  }

  #reportUnplaced(id: string, marks: readonly Mark[]): void {
    if (marks.some((mark) => mark.kind === 'place' && mark.id === id)) return
    const message = `channel ${id}: no mark says on which section it was (mark,kind=place,id=${id} section="…"), so its readings are not used`
    this.#problems.push({ code: 'no-place', line: null, message })
  }

  #reportColumn(channel: Channel, column: Column, notNumbers: { count: number; line: number }): void {
    if (notNumbers.count > 0) {
      const message = `channel ${channel.id}: field "${channel.from.field}" is not a number on ${notNumbers.count} lines`
      this.#problems.push({ code: 'not-a-number', line: notNumbers.line, message })
    }
    if (column.count === 0) {
      const message = `channel ${channel.id}: no sample of field "${channel.from.field}" of measurement "${channel.from.measurement}"`
      this.#problems.push({ code: 'no-samples', line: null, message })
    }
    if (column.outOfOrder > 0) {
      const message = `channel ${channel.id}: ${column.outOfOrder} samples came out of order and were sorted by their time`
      this.#problems.push({ code: 'out-of-order', line: null, message })
    }
  }

  #warnOfCalibration(startNs: bigint): void {
    const startDate = new Date(Number(startNs / 1_000_000n)).toISOString().slice(0, 10)
    for (const { id, calibration } of this.#system.channels) {
      if (!calibration?.due || startDate <= calibration.due) continue
      const message = `channel ${id}: its calibration was due on ${calibration.due}, before this recording of ${startDate}`
      this.#problems.push({ code: 'calibration-overdue', line: null, message })
    }
  }

  #reportCounts(): void {
    if (this.#refused > refusalsShownAtMost) {
      const message = `${this.#refused - refusalsShownAtMost} more lines were refused`
      this.#problems.push({ code: 'refused-line', line: null, message })
    }
    if (this.#rejectedOnArrival > 0) {
      const message = `${this.#rejectedOnArrival} lines were rejected on arrival and kept as ${rejectedPrefix} comments`
      this.#problems.push({ code: 'rejected-on-arrival', line: null, message })
    }
    const { missing } = this.#sequence
    if (missing > 0) {
      const message = `${missing} of the logger's own line numbers are missing`
      this.#problems.push({ code: 'missing-sequence', line: null, message })
    }
  }
}

function withoutByteOrderMark(bytes: Uint8Array): Uint8Array {
  return Buffer.from(bytes.subarray(0, 3)).toString('utf8') === '\ufeff' ? bytes.subarray(3) : bytes
}

/**
 * For a movable gauge, the readings while it was marked on the channel's section
 * (`mark,kind=place,id=CHANNEL section="…"`), each mark until the next; for any other channel, all readings.
 */
function placedReadings<N extends TimedNumbers>(channel: Channel, numbers: N, marks: readonly Mark[]): N {
  const { movable } = channel
  if (movable === undefined) return numbers
  const moves = marks.filter(({ kind, id }) => kind === 'place' && id === movable.id)
  let next = 0
  let isHere = false
  const kept = Array.from(numbers.timeS, (timeS) => {
    for (let move = moves[next]; move && move.timeS <= timeS; move = moves[++next])
      isHere = move.fields.section === channel.section
    return isHere
  })
  const of = (column: Float64Array) => column.filter((_, i) => kept[i])
  return { ...numbers, timeS: of(numbers.timeS), values: of(numbers.values) }
}
