import { type BlockReader, LineBlocks, longestLineBytes } from '#ingest/line-protocol/line-blocks.ts'

/** One line without its line end. `text` is null when the bytes are not UTF-8 or hold control characters. */
export interface LineReceiver {
  line(text: string | null, bytes: () => Uint8Array): void
  /** A piece of a line over the limit; `first` on its first piece. */
  tooLong(piece: Uint8Array, first: boolean): void
}

const newline = 10
/** Not UTF-8, or control characters other than tab and the returns that end lines. */
const suspicious = /[\0-\x08\x0b\x0c\x0e-\x1f\x7f\ufffd]/

/** Cuts a byte stream into lines, wherever the chunks are cut. Accepts LF, CRLF and LFCR. */
export class LineSplitter implements BlockReader {
  readonly #blocks = new LineBlocks(this)
  readonly #receiver: LineReceiver

  constructor(receiver: LineReceiver) {
    this.#receiver = receiver
  }

  push(chunk: Uint8Array): void {
    this.#blocks.push(chunk)
  }

  /** Takes out what stands without a line end: a half line, never to be joined with what comes next. */
  takeHalf(): Uint8Array {
    return this.#blocks.take()
  }

  overlong(piece: Uint8Array, first: boolean): void {
    this.#receiver.tooLong(piece, first)
  }

  /** Clean text is decoded in one go: this is the fast path. */
  block(bytes: Uint8Array): number {
    const block = bytes.subarray(0, -1)
    const text = decode(block)
    if (!suspicious.test(text)) {
      const returns = text.includes('\r')
      for (const line of text.split('\n')) {
        if (returns || line.length > longestLineBytes) this.#one(Buffer.from(line))
        else this.#receiver.line(line, () => Buffer.from(line))
      }
      return bytes.length
    }
    let start = 0
    while (start <= block.length) {
      let end = block.indexOf(newline, start)
      if (end === -1) end = block.length
      this.#one(block.subarray(start, end))
      start = end + 1
    }
    return bytes.length
  }

  #one(line: Uint8Array): void {
    let start = 0
    let end = line.length
    while (end > start && line[end - 1] === 13) end--
    while (start < end && line[start] === 13) start++
    const bare = line.subarray(start, end)
    if (bare.length > longestLineBytes) {
      this.#receiver.tooLong(bare, true)
      return
    }
    const text = decode(bare)
    this.#receiver.line(suspicious.test(text) || text.includes('\r') ? null : text, () => bare)
  }
}

function decode(bytes: Uint8Array): string {
  return Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('utf8')
}
