import { isAscii, isUtf8 } from 'node:buffer'
import { carriageReturn, newline } from './ascii.ts'
import { type BlockReader, giveOverlong, LineBlocks, longestLineBytes } from './line-blocks.ts'
import { LineParser } from './line-parser.ts'
import type { Point, Precision, Refusal } from './point.ts'

export interface PointListener {
  /** @param line number of the point's first line, from 1 */
  point(point: Point, line: number): void
  /** @param bytes the unchanged line, without its line end */
  refused(refusal: Refusal, bytes: Uint8Array): void
  /** A comment line with its `#`, without its line end. */
  comment?(text: string, line: number): void
}

/**
 * Bytes in, points out; resumable at any byte: the points and refusals do not depend on the chunk boundaries.
 * Nothing is dropped in silence: every line is a point, a comment, blank or refused.
 */
export class PointReader implements BlockReader {
  readonly #listener: PointListener
  readonly #parser: LineParser
  readonly #blocks: LineBlocks
  #line = 1

  constructor(listener: PointListener, precision: Precision = 'ns') {
    this.#listener = listener
    this.#parser = new LineParser(precision)
    this.#blocks = new LineBlocks(this)
  }

  /** Number of the line being read, from 1; set it when lines were read elsewhere. */
  get line(): number {
    return this.#line
  }

  set line(line: number) {
    this.#line = line
  }

  push(chunk: Uint8Array): void {
    this.#blocks.push(chunk)
  }

  /** End of the input: a last line without line end counts as a line. */
  end(): void {
    this.#blocks.end()
  }

  block(bytes: Uint8Array, isLast: boolean): number {
    const buffer = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
    if (isAscii(bytes)) return this.#read(buffer.toString('latin1'), buffer, isLast)
    if (!isUtf8(bytes)) return this.#readMixed(buffer, isLast)
    const text = buffer.toString('utf8')
    const used = this.#read(text, null, isLast)
    return Buffer.byteLength(text.slice(0, used))
  }

  overlong(piece: Uint8Array, first: boolean): void {
    const cause = first ? `the line is longer than ${longestLineBytes} bytes` : 'rest of the line'
    if (first) this.#line++
    this.#listener.refused({ line: this.#line - 1, column: 1, cause }, piece)
  }

  /** @param bytes of the same length as `text` where every character is one byte; null: encode again */
  #read(text: string, bytes: Buffer | null, isLast: boolean): number {
    let at = 0
    while (at < text.length) {
      // Checked before parsing: a line over the limit costs only the search for its end.
      const lineEnd = nextLine(text, at)
      if (isOverlong(text, at, lineEnd)) {
        giveOverlong(this.#lineBytes(text, bytes, at, lineEnd), this)
        at = lineEnd
        continue
      }
      const found = this.#parser.parse(text, at, isLast)
      if (found === 'incomplete') return at
      const { end } = this.#parser
      if (found === 'point') this.#listener.point(this.#parser.point, this.#line)
      else if (found === 'comment')
        this.#listener.comment?.(bare(text.slice(at, end)).trimStart(), this.#line)
      else if (found === 'refused') this.#refuse(text, bytes, at)
      this.#line += found === 'refused' ? 1 : 1 + this.#parser.innerNewlines
      at = end
    }
    return at
  }

  #refuse(text: string, bytes: Buffer | null, at: number): void {
    const { cause, causeAt, end } = this.#parser
    const before = text.slice(at, causeAt)
    const lineStart = before.lastIndexOf('\n') + 1
    const line = this.#line + (lineStart === 0 ? 0 : before.split('\n').length - 1)
    const refusal = { line, column: before.length - lineStart + 1, cause }
    this.#listener.refused(refusal, this.#lineBytes(text, bytes, at, end))
  }

  #lineBytes(text: string, bytes: Buffer | null, at: number, end: number): Buffer {
    const line = bytes === null ? Buffer.from(text.slice(at, end)) : bytes.subarray(at, end)
    let length = line.length
    if (line[length - 1] === newline) length--
    if (line[length - 1] === carriageReturn) length--
    return line.subarray(0, length)
  }

  /**
   * A block with bytes that are not UTF-8. The syntax of line protocol is ASCII, so lines are found byte by byte;
   * each is then decoded and read, or refused when it is not UTF-8.
   */
  #readMixed(bytes: Buffer, isLast: boolean): number {
    const text = bytes.toString('latin1')
    let at = 0
    while (at < text.length) {
      const lineEnd = nextLine(text, at)
      const line = this.#lineBytes(text, bytes, at, lineEnd)
      if (line.length > longestLineBytes) {
        giveOverlong(line, this)
        at = lineEnd
        continue
      }
      if (this.#parser.parse(text, at, isLast) === 'incomplete') return at
      const { end } = this.#parser
      const piece = bytes.subarray(at, end)
      if (isUtf8(piece)) {
        this.#read(piece.toString('utf8'), null, true)
        at = end
        continue
      }
      const decoded = line.toString('utf8')
      const badAt = decoded.indexOf('\ufffd')
      const column = (badAt === -1 ? decoded.length : badAt) + 1
      this.#listener.refused({ line: this.#line, column, cause: 'not UTF-8' }, line)
      this.#line++
      at = lineEnd
    }
    return at
  }
}

function isOverlong(text: string, at: number, end: number): boolean {
  // A UTF-16 unit takes at most three bytes of UTF-8.
  return end - at > longestLineBytes / 3 && Buffer.byteLength(bare(text.slice(at, end))) > longestLineBytes
}

function nextLine(text: string, at: number): number {
  const end = text.indexOf('\n', at)
  return end === -1 ? text.length : end + 1
}

function bare(line: string): string {
  return line.replace(/\r?\n$|\r$/, '')
}
