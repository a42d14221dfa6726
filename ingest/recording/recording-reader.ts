import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { SequenceWatch, sequenceFields } from '#ingest/intake-sequence.ts'
import type { Column } from '#ingest/line-protocol/column.ts'
import { type ColumnListener, ColumnReader, type WantedField } from '#ingest/line-protocol/column-reader.ts'
import type { Point, Refusal } from '#ingest/line-protocol/point.ts'
import { applyZeroMarks } from './apply-zero-marks.ts'
import { markFromPoint, markMeasurement } from './mark-from-point.ts'
import { recordingHeader, rejectedPrefix } from './recording-header.ts'
import type { RecordingProblem } from './recording-problem.ts'
import { scaleColumn, type TimedNumbers } from './scale-column.ts'
import { UnreadableFile } from './unreadable-file.ts'
import { isWholeLine } from './whole-line.ts'

/** A recording and everything about it that was not as it should be. */
export interface RecordingRead extends Recording {
  readonly problems: readonly RecordingProblem[]
}

/** Refused lines told one by one; after that they are counted. */
const mostRefusalsTold = 20

/**
 * Reads a recording in chunks, straight into columns: memory is that of the columns, whatever the file's length.
 * `push` the bytes in their order, then `finish` once.
 */
export class RecordingReader {
  readonly #name: string
  readonly #system: System
  readonly #columns: ColumnReader
  /** Where each channel's rail stands among the columns. */
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
  #firstRefusal: Refusal | null = null
  #bytes = 0

  /** @param totalBytes length of the whole file where known */
  constructor(system: System, name: string, totalBytes?: number) {
    this.#name = name
    this.#system = system
    const wanted: WantedField[] = system.channels.map(({ from }) => from)
    for (const channel of system.channels) {
      if (channel.scale?.kind !== 'ratiometric') continue
      this.#railOf.set(channel, wanted.length)
      wanted.push(channel.scale.rail)
    }
    this.#notNumbers = wanted.map(() => ({ count: 0, line: 0 }))
    const listener: ColumnListener = {
      other: (point, line) => this.#other(point, line),
      refused: (refusal) => this.#refuse(refusal, 'refused-line'),
      comment: (text, line) => this.#comment(text, line),
      notANumber: (column, line) => {
        if (this.#notNumbers[column].count++ === 0) this.#notNumbers[column].line = line
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
   * The file is over.
   *
   * @throws UnreadableFile when it is empty, of another version, or no line protocol at all
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
    this.#tellCounts()
    return {
      name: this.#name,
      startNs: String(startNs),
      channels,
      marks,
      rejectedLines: this.#rejectedOnArrival + this.#refused,
      missingSequence: this.#sequence.missing,
      ...(jumps.length > 0 ? { clockJumps: jumps } : {}),
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
      throw new UnreadableFile(this.#name, line, `no line of it is line protocol; column ${column}: ${cause}`)
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
    this.#firstRefusal ??= refusal
    this.#refused++
    if (this.#refused > mostRefusalsTold) return
    const { line, column, cause } = refusal
    this.#problems.push({ code, line, message: `column ${column}: ${cause}` })
  }

  /** How much earlier than the first line the earliest point is: zero, or negative when lines came out of order. */
  #earliestS(baseNs: bigint | null): number {
    let earliest = 0
    for (const { point } of this.#marks)
      earliest = Math.min(earliest, Number(BigInt(point.timeNs) - baseNs!) / 1e9)
    for (const column of this.#columns.columns) {
      if (column.count > 0 && column.axis.timeS[0] < earliest) earliest = column.axis.timeS[0]
      if (column.outOfOrder > 0) for (const timeS of column.timeS) earliest = Math.min(earliest, timeS)
    }
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
    return marks.sort((a, b) => a.timeS - b.timeS)
  }

  #readChannels(earliestS: number, marks: readonly Mark[]): ChannelSamples[] {
    const { columns } = this.#columns
    const shifted = new Set<Float64Array>()
    const inOrder = columns.map((column) => numbersInOrder(column, earliestS, shifted, this.#clockJumps))
    return this.#system.channels.map((channel, index) => {
      const from = columns[index]
      this.#tellColumn(channel, from, this.#notNumbers[index])
      const rail = this.#railOf.get(channel)
      const railNumbers = rail === undefined ? null : inOrder[rail]
      const scaled = scaleColumn(channel, inOrder[index], railNumbers)
      if (scaled.left > 0) {
        const message = `channel ${channel.id}: ${scaled.left} of ${from.count} numbers make no reading by its scale`
        this.#problems.push({ code: 'no-reading', line: null, message })
      }
      this.#problems.push(...applyZeroMarks(channel, scaled, marks))
      return { channel: channel.id, timeS: scaled.timeS, reading: scaled.values }
    })
  }

  #tellColumn(channel: Channel, column: Column, notNumbers: { count: number; line: number }): void {
    if (notNumbers.count > 0) {
      const message = `channel ${channel.id}: field "${channel.from.field}" is no number on ${notNumbers.count} lines`
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

  #tellCounts(): void {
    if (this.#refused > mostRefusalsTold) {
      const message = `${this.#refused - mostRefusalsTold} more lines were refused`
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

/** Numbers of a column in the order of time, counted from the earliest point. Shared time axes stay shared. */
function numbersInOrder(
  column: Column,
  earliestS: number,
  shifted: Set<Float64Array>,
  jumps: { timeS: number; seconds: number }[],
): TimedNumbers {
  const axis = column.axis.timeS
  if (earliestS !== 0 && !shifted.has(axis)) {
    for (let i = 0; i < column.axis.count; i++) axis[i] -= earliestS
    shifted.add(axis)
  }
  const { timeS } = column
  const values = column.values.subarray(0, column.count)
  if (column.outOfOrder === 0) return { timeS, values }
  for (const jump of backwardJumps(timeS)) jumps.push(jump)
  const order = Uint32Array.from(timeS, (_, i) => i).sort((a, b) => timeS[a] - timeS[b] || a - b)
  return {
    timeS: Float64Array.from(order, (i) => timeS[i]),
    values: Float64Array.from(order, (i) => values[i]),
  }
}

/** Lines of one instant may come in any order; more than this is a clock that was set back, [s]. */
const anyOrderS = 1

/**
 * Where the time went back onto times that had already been read: the clock was set. Lines that come late and fill a gap
 * are no jump.
 */
function backwardJumps(timeS: Float64Array): { timeS: number; seconds: number }[] {
  const out: { timeS: number; seconds: number }[] = []
  for (let i = 1; i < timeS.length; i++) {
    const seconds = timeS[i] - timeS[i - 1]
    if (seconds > -anyOrderS) continue
    let next = i - 1
    while (next > 0 && timeS[next - 1] > timeS[i]) next--
    const usual = Math.abs(timeS[i - 1] - timeS[Math.max(0, i - 2)])
    if (timeS[next] - timeS[i] <= Math.max(3 * usual, anyOrderS)) out.push({ timeS: timeS[i], seconds })
  }
  return out
}

function withoutByteOrderMark(bytes: Uint8Array): Uint8Array {
  return bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? bytes.subarray(3) : bytes
}
