import {
  carriageReturn,
  comma,
  dot,
  letterE,
  letterI,
  letterU,
  minus,
  newline,
  nine,
  quote,
  space,
  zero,
} from './ascii.ts'
import { Column, TimeAxis } from './column.ts'
import { endOfExponent, endOfWord, mostDigits, numberOf, powersOfTen, wideDecimal } from './field-value.ts'
import { type BlockReader, LineBlocks, longestLineBytes } from './line-blocks.ts'
import { headHash, type LayoutField, type LineLayout, learnLayout, looksLike } from './line-layout.ts'
import { type Point, type Refusal, seriesOf } from './point.ts'
import { type PointListener, PointReader } from './point-reader.ts'

/** A field to collect: all listed tags must match. */
export interface WantedField {
  readonly measurement: string
  readonly field: string
  readonly tags: Readonly<Record<string, string>>
}

interface Wanted {
  readonly tags: readonly (readonly [tag: string, value: string])[]
  /** Indices of the columns by field. */
  readonly columns: Map<string, readonly number[]>
}

/** Wanted columns by one of their tags as text, so that a fleet's points look only at their own; '' without tags. */
type WantedByTag = Map<string, Wanted[]>

export interface ColumnListener {
  /** A point of a measurement without a wanted column. */
  other(point: Point, line: number): void
  refused(refusal: Refusal, bytes: Uint8Array): void
  comment?(text: string, line: number): void
  /** A wanted field that is not a number on this line. */
  notANumber?(column: number, line: number): void
  /** A logger's own line number. */
  sequence?(series: string, number: number): void
}

export interface ColumnReaderOptions {
  /** Length of the whole input if known, to allocate the columns once, [bytes]. */
  readonly totalBytes?: number
  /** Fields with a logger's line number. */
  readonly sequenceKeys?: readonly string[]
}

/**
 * Reads line protocol into typed columns. Fast path: lines with a known layout are read byte by byte without
 * allocating an object. All other lines go through the strict parser, so both paths accept and refuse the same.
 */
export class ColumnReader implements BlockReader {
  /** One column for each wanted field, in the same order. */
  readonly columns: readonly Column[]
  /** Time of the first point, [ns]; the columns' times count from it. Null before the first point. */
  baseNs: bigint | null = null
  /** By measurement. */
  readonly #wanted = new Map<string, WantedByTag>()
  readonly #listener: ColumnListener
  readonly #sequenceKeys: readonly string[]
  readonly #points: PointReader
  readonly #blocks: LineBlocks
  readonly #totalBytes: number
  /** Layouts by the hash of their heads. */
  readonly #layouts = new Map<number, LineLayout[]>()
  #layoutCount = 0
  /** Layout of the previous line. */
  #layout: LineLayout | null = null
  /** Values of the line being read; NaN for a word or a string. */
  readonly #numbers = new Float64Array(mostFields)
  #bytesRead = 0
  #blockAt = 0
  #line = 1
  #baseS = 0
  #baseNanos = 0
  /** The line in the strict parser, from which its layout is learned. */
  #strictLine: Uint8Array = new Uint8Array(0)

  constructor(wanted: readonly WantedField[], listener: ColumnListener, options: ColumnReaderOptions = {}) {
    const groups = new Map<string, Wanted>()
    for (const [index, { measurement, field, tags }] of wanted.entries()) {
      const key = JSON.stringify([measurement, tags])
      const group = groups.get(key) ?? { tags: Object.entries(tags), columns: new Map() }
      if (!groups.has(key)) {
        groups.set(key, group)
        const byTag: WantedByTag = this.#wanted.get(measurement) ?? new Map()
        this.#wanted.set(measurement, byTag)
        const first = String(group.tags[0] ?? '')
        byTag.set(first, [...(byTag.get(first) ?? []), group])
      }
      group.columns.set(field, [...(group.columns.get(field) ?? []), index])
    }
    this.#listener = listener
    this.#sequenceKeys = options.sequenceKeys ?? []
    this.#totalBytes = options.totalBytes ?? 0
    const axes = [new TimeAxis(firstCapacity)]
    const forecast = (count: number) => this.#forecast(count)
    // One allocation for all: a fleet has a thousand columns.
    const room = new Float64Array(firstCapacity * wanted.length)
    this.columns = wanted.map((_, k) => {
      const values = room.subarray(k * firstCapacity, (k + 1) * firstCapacity)
      return new Column(axes, values, forecast)
    })
    const strict: PointListener = {
      point: (point, line) => this.#take(point, line),
      refused: (refusal, bytes) => listener.refused(refusal, bytes),
      comment: (text, line) => listener.comment?.(text, line),
    }
    this.#points = new PointReader(strict)
    this.#blocks = new LineBlocks(this)
  }

  /** Number of the line being read, from 1. */
  get line(): number {
    return this.#line
  }

  push(chunk: Uint8Array): void {
    this.#blocks.push(chunk)
  }

  end(): void {
    this.#blocks.end()
  }

  takeHalf(): Uint8Array {
    return this.#blocks.take()
  }

  block(block: Uint8Array, isLast: boolean): number {
    const bytes = Buffer.from(block.buffer, block.byteOffset, block.length)
    let at = 0
    while (at < bytes.length) {
      const end = this.#layout === null ? -1 : this.#readKnown(bytes, at)
      if (end !== -1) {
        at = end
        this.#blockAt = end
        this.#line++
        continue
      }
      const used = this.#readStrictly(bytes, at, isLast)
      if (used === 0) break
      at += used
    }
    this.#bytesRead += at
    this.#blockAt = 0
    return at
  }

  overlong(piece: Uint8Array, first: boolean): void {
    this.#points.line = this.#line
    this.#points.overlong(piece, first)
    this.#line = this.#points.line
  }

  /** Reads the line at `at` by the expected layout, or by another one with its head; -1 when none fits. */
  #readKnown(bytes: Buffer, at: number): number {
    const before = this.#layout!
    let end = this.#readBy(before.next, bytes, at)
    if (end !== -1) {
      this.#layout = before.next
      return end
    }
    for (const layout of this.#layouts.get(headHash(bytes, at)) ?? []) {
      end = this.#readBy(layout, bytes, at)
      if (end === -1) continue
      before.next = layout
      this.#layout = layout
      return end
    }
    return -1
  }

  /** Index after the line when it has the layout's head and fields, plain values and a 19-digit time; else -1. */
  #readBy(layout: LineLayout, bytes: Buffer, at: number): number {
    const { text, headTo, fields } = layout
    let i = at
    let k = 0
    for (; k < headTo; k++, i++) if (bytes[i] !== text[k]) return -1
    const count = fields.length
    const numbers = this.#numbers
    for (let f = 0; f < count; f++) {
      const { to } = fields[f]
      for (; k < to; k++, i++) if (bytes[i] !== text[k]) return -1
      const from = i
      let c = bytes[i]
      const negative = c === minus
      if (negative) c = bytes[++i]
      let mantissa = 0
      const wholeFrom = i
      while (c >= zero && c <= nine) {
        mantissa = (Math.imul(mantissa, 10) + c - zero) | 0
        c = bytes[++i]
      }
      let digits = i - wholeFrom
      let decimals = 0
      if (c === dot) {
        const decimalsFrom = ++i
        c = bytes[i]
        while (c >= zero && c <= nine) {
          mantissa = (Math.imul(mantissa, 10) + c - zero) | 0
          c = bytes[++i]
        }
        decimals = i - decimalsFrom
        digits += decimals
      } else if (digits < 19 && (c === letterI || (c === letterU && !negative))) c = bytes[++i]
      if (digits === 0) {
        i = i === from ? endOfWord(bytes, i) : -1
        numbers[f] = Number.NaN
      } else if (c === letterE || c === letterE - 32) {
        i = endOfExponent(bytes, i + 1)
        numbers[f] = numberOf(bytes, from, i)
        if (!Number.isFinite(numbers[f])) return -1
      } else {
        if (digits > mostDigits) return -1
        // Nine digits fit a 32-bit integer.
        const size =
          digits <= 9 ? mantissa / powersOfTen[decimals] : wideDecimal(bytes, wholeFrom, digits, decimals)
        numbers[f] = negative ? -size : size
      }
      if (bytes[i] !== (f + 1 === count ? space : comma)) return -1
      i++
    }
    return this.#readTime(layout, bytes, at, i)
  }

  #readTime(layout: LineLayout, bytes: Uint8Array, lineAt: number, at: number): number {
    let other = 0
    const first = bytes[at] - zero
    other |= first | (9 - first)
    let low = 0
    let i = at + 1
    for (; i < at + 10; i++) {
      const d = bytes[i] - zero
      other |= d | (9 - d)
      low = (Math.imul(low, 10) + d) | 0
    }
    let nanos = 0
    for (; i < at + 19; i++) {
      const d = bytes[i] - zero
      other |= d | (9 - d)
      nanos = (Math.imul(nanos, 10) + d) | 0
    }
    if (i - lineAt > longestLineBytes) return -1
    let c = bytes[i]
    if (c === carriageReturn) c = bytes[++i]
    // A leading zero or nine may exceed 64 bits or the usual spelling: left to the strict parser.
    if (other < 0 || c !== newline || first === 0 || first === 9) return -1
    this.#store(layout.fields, layout.series, first * 1e9 + low, nanos)
    return i + 1
  }

  #store(fields: readonly LayoutField[], series: string, seconds: number, nanos: number): void {
    if (this.baseNs === null) this.#setBase(BigInt(seconds) * 1_000_000_000n + BigInt(nanos))
    let sinceBaseNs = (seconds - this.#baseS) * 1e9 + (nanos - this.#baseNanos)
    // Beyond 146 years the product is rounded too: the sum must round only once.
    if (!Number.isSafeInteger(sinceBaseNs))
      sinceBaseNs = Number(BigInt(seconds) * 1_000_000_000n + BigInt(nanos) - this.baseNs!)
    const timeS = sinceBaseNs / 1e9
    for (let f = 0; f < fields.length; f++) {
      const { columns, isSequence } = fields[f]
      const value = this.#numbers[f]
      const isNumber = !Number.isNaN(value)
      for (let k = 0; k < columns.length; k++)
        if (isNumber) this.columns[columns[k]].append(timeS, value)
        else this.#listener.notANumber?.(columns[k], this.#line)
      if (isSequence && isNumber) this.#listener.sequence?.(series, value)
    }
  }

  #setBase(ns: bigint): void {
    this.baseNs = ns
    this.#baseS = Number(ns / 1_000_000_000n)
    this.#baseNanos = Number(ns % 1_000_000_000n)
  }

  /** Reads one line, or all lines that its string spans, by the strict parser; 0 when some are still missing. */
  #readStrictly(bytes: Uint8Array, at: number, isLast: boolean): number {
    this.#points.line = this.#line
    let end = lineEnd(bytes, at)
    for (;;) {
      this.#strictLine = bytes.subarray(at, end)
      const used = this.#points.block(this.#strictLine, isLast && end === bytes.length)
      this.#line = this.#points.line
      if (used > 0) return used
      if (end === bytes.length) return 0
      // Only a quote closes the open string, so all lines up to the next quote belong to it.
      const quoteAt = bytes.indexOf(quote, end)
      end = quoteAt === -1 ? bytes.length : lineEnd(bytes, quoteAt)
    }
  }

  #take(point: Point, line: number): void {
    if (point.timeNs === null) {
      const column = this.#strictLine.length + 1
      this.#listener.refused(
        { line, column, cause: 'the line has no time' },
        withoutLineEnd(this.#strictLine),
      )
      return
    }
    const timeNs = BigInt(point.timeNs)
    if (this.baseNs === null) this.#setBase(timeNs)
    const byTag = this.#wanted.get(point.measurement)
    if (byTag === undefined) {
      this.#listener.other(point, line)
      return
    }
    const fitting = ['', ...Object.entries(point.tags).map(String)]
      .flatMap((key) => byTag.get(key) ?? [])
      .filter(({ tags }) => tags.every(([tag, value]) => point.tags[tag] === value))
    const columnsOf = (key: string) => fitting.flatMap(({ columns }) => columns.get(key) ?? [])
    const timeS = Number(timeNs - this.baseNs!) / 1e9
    for (const { key, type, value } of point.fields) {
      const isNumber = type !== 'string' && type !== 'boolean'
      for (const column of columnsOf(key)) {
        if (isNumber) this.columns[column].append(timeS, Number(value))
        else this.#listener.notANumber?.(column, line)
      }
      if (isNumber && this.#sequenceKeys.includes(key))
        this.#listener.sequence?.(seriesOf(point), Number(value))
    }
    this.#learn(point, columnsOf)
  }

  #learn(point: Point, columnsOf: (key: string) => number[]): void {
    if (point.fields.length > mostFields || this.#strictLine.length > longestLineBytes / 16) return
    const layout = learnLayout(point, columnsOf, this.#sequenceKeys)
    if (layout === null) return
    const hash = headHash(layout.text, 0)
    const alike = this.#layouts.get(hash) ?? []
    // A known layout with a value that only the strict parser reads.
    if (alike.some((known) => looksLike(known, layout))) return
    if (this.#layoutCount++ === mostLayouts) {
      // A tag changes its value all the time: the learned layouts do not recur.
      this.#layouts.clear()
      this.#layoutCount = 1
    }
    this.#layouts.set(hash, [...alike, layout])
    this.#layout = layout
  }

  #forecast(count: number): number {
    const read = this.#bytesRead + this.#blockAt
    return read === 0 ? 0 : Math.ceil((count * this.#totalBytes * 1.02) / read)
  }
}

const mostFields = 64
/** Room of a column before the file shows how much it needs, [points]. */
const firstCapacity = 256
/** A bench has about ten series; a fleet's export may alternate between some hundred. */
const mostLayouts = 4096

/** Index after the newline of the line at `at`, or the end of the bytes. */
function lineEnd(bytes: Uint8Array, at: number): number {
  const newlineAt = bytes.indexOf(newline, at)
  return newlineAt === -1 ? bytes.length : newlineAt + 1
}

function withoutLineEnd(line: Uint8Array): Uint8Array {
  let end = line.length
  if (line[end - 1] === newline) end--
  if (line[end - 1] === carriageReturn) end--
  return line.subarray(0, end)
}
