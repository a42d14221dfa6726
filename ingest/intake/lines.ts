import { newline } from '#ingest/line-protocol/ascii.ts'
import { type BlockReader, LineBlocks, longestLineBytes } from '#ingest/line-protocol/line-blocks.ts'

/** One line without its line end. `text` is null when the bytes are not UTF-8 or contain control characters. */
export interface LineReceiver {
  line(text: string | null, bytes: () => Uint8Array): void
  /** A piece of a line over the limit; `first` on its first piece. */
  tooLong(piece: Uint8Array, first: boolean): void
}

/** Not UTF-8, or control characters other than tab and the returns that end lines. */
const suspicious = /[\0-\x08\x0b\x0c\x0e-\x1f\x7f\ufffd]/

/** Splits a byte stream into lines, at any chunk boundaries. Accepts LF, CRLF and LFCR. */
export class LineSplitter implements BlockReader {
  readonly #blocks = new LineBlocks(this)
  readonly #receiver: LineReceiver

  constructor(receiver: LineReceiver) {
    this.#receiver = receiver
  }

  push(chunk: Uint8Array): void {
    this.#blocks.push(chunk)
  }

  /** Removes and returns the half line at the end; it must never join the next bytes. */
  takeHalf(): Uint8Array {
    return this.#blocks.take()
  }

  overlong(piece: Uint8Array, first: boolean): void {
    this.#receiver.tooLong(piece, first)
  }

  /** Fast path: clean text is decoded in one call. */
  block(block: Uint8Array): number {
    const text = decode(block)
    if (!suspicious.test(text)) {
      const returns = text.includes('\r')
      for (const line of text.slice(0, -1).split('\n')) {
        if (returns || line.length > longestLineBytes) this.#one(Buffer.from(line))
        else this.#receiver.line(line, () => Buffer.from(line))
      }
      return block.length
    }
    for (let start = 0; start < block.length; ) {
      const end = block.indexOf(newline, start)
      // A copy: the block is used again, and the line may wait for its dialect.
      this.#one(Uint8Array.from(block.subarray(start, end)))
      start = end + 1
    }
    return block.length
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
