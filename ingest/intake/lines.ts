import { longestLineBytes } from '#ingest/line-protocol/line-blocks.ts'

/** One line without its line end. `text` is null when the bytes are not UTF-8 or contain control characters. */
export interface LineReceiver {
  line(text: string | null, bytes: () => Uint8Array): void
  /** A piece of a line over the limit; `first` on its first piece. */
  tooLong(piece: Uint8Array, first: boolean): void
}

const newline = 10
/** Not UTF-8, or control characters other than tab and the returns that end lines. */
const suspicious = /[\0-\x08\x0b\x0c\x0e-\x1f\x7f\ufffd]/

/**
 * Splits a byte stream into lines, at any chunk boundaries. Accepts LF, CRLF and LFCR. Memory is bounded by the
 * longest line.
 */
export class LineSplitter {
  #held: Uint8Array[] = []
  #heldBytes = 0
  #overlong = false
  readonly #receiver: LineReceiver

  constructor(receiver: LineReceiver) {
    this.#receiver = receiver
  }

  push(chunk: Uint8Array): void {
    const last = chunk.lastIndexOf(newline)
    if (last === -1) {
      this.#hold(chunk)
      return
    }
    let start = 0
    if (this.#heldBytes > 0 || this.#overlong) {
      const end = chunk.indexOf(newline)
      this.#hold(chunk.subarray(0, end))
      const line = this.#take()
      if (this.#overlong) {
        if (line.length > 0) this.#receiver.tooLong(line, false)
        this.#overlong = false
      } else this.#one(line)
      start = end + 1
    }
    if (start <= last) this.#block(chunk.subarray(start, last))
    if (last + 1 < chunk.length) this.#hold(chunk.subarray(last + 1))
  }

  /** Removes and returns the half line at the end; it must never join the next bytes. */
  takeHalf(): Uint8Array {
    this.#overlong = false
    return this.#take()
  }

  #hold(piece: Uint8Array): void {
    let rest = piece
    while (this.#heldBytes + rest.length > longestLineBytes) {
      const fits = longestLineBytes - this.#heldBytes
      this.#keep(rest.subarray(0, fits))
      rest = rest.subarray(fits)
      this.#receiver.tooLong(this.#take(), !this.#overlong)
      this.#overlong = true
    }
    this.#keep(rest)
  }

  #keep(piece: Uint8Array): void {
    if (piece.length === 0) return
    this.#held.push(piece.slice())
    this.#heldBytes += piece.length
    if (this.#held.length > 256) this.#held = [Buffer.concat(this.#held)]
  }

  #take(): Uint8Array {
    const whole = this.#held.length === 1 ? this.#held[0] : Buffer.concat(this.#held)
    this.#held = []
    this.#heldBytes = 0
    return whole
  }

  /** Whole lines, separated by newlines, none at the end. Fast path: clean text is decoded in one call. */
  #block(block: Uint8Array): void {
    const text = decode(block)
    if (!suspicious.test(text)) {
      const returns = text.includes('\r')
      for (const line of text.split('\n')) {
        if (returns || line.length > longestLineBytes) this.#one(Buffer.from(line))
        else this.#receiver.line(line, () => Buffer.from(line))
      }
      return
    }
    let start = 0
    while (start <= block.length) {
      let end = block.indexOf(newline, start)
      if (end === -1) end = block.length
      this.#one(block.subarray(start, end))
      start = end + 1
    }
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
