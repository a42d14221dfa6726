import { newline } from './ascii.ts'

/** Longest line, [bytes]: more is a wrong baud rate, a broken logger or an attack. */
export const longestLineBytes = 65_536

/** Takes what a `LineBlocks` has put together. */
export interface BlockReader {
  /**
   * Whole lines; the block ends with a newline unless `isLast`.
   *
   * @param isLast no later line belongs to these: what is open stays open
   * @returns how many bytes were used: less than all only when the last point may go on in the next block
   */
  block(bytes: Uint8Array, isLast: boolean): number
  /** A piece of a line over the limit, `longestLineBytes` long save the last; later pieces have `first` false. */
  overlong(piece: Uint8Array, first: boolean): void
}

/**
 * Puts chunks together into blocks of whole lines, wherever they were cut. Copies only what a cut left over; memory
 * is bounded by the longest line. Any way of cutting gives the reader the same lines.
 */
export class LineBlocks {
  readonly #reader: BlockReader
  #held: Uint8Array = new Uint8Array(256)
  #heldBytes = 0
  /** Where in the held bytes the line begins whose newline has not come. */
  #lineAt = 0
  /** The line being held has outgrown the limit and goes out in pieces. */
  #overlong = false

  constructor(reader: BlockReader) {
    this.#reader = reader
  }

  push(chunk: Uint8Array): void {
    let rest = chunk
    // Only lines that a cut has parted are copied; the others are read where they stand.
    while (rest.length > 0 && (this.#heldBytes > 0 || this.#overlong)) {
      const end = rest.indexOf(newline)
      const piece = end === -1 ? rest : rest.subarray(0, end + 1)
      rest = rest.subarray(piece.length)
      this.#extend(piece, end !== -1)
    }
    if (rest.length === 0) return
    const last = rest.lastIndexOf(newline)
    const used = last === -1 ? 0 : this.#reader.block(rest.subarray(0, last + 1), false)
    if (used === rest.length) return
    this.#hold(rest.subarray(used))
    this.#lineAt = last + 1 - used
    this.#limit()
  }

  /** The input is over: what is left counts as lines. */
  end(): void {
    if (this.#overlong) this.#giveRest()
    else if (this.#heldBytes > 0) this.#reader.block(this.take(), true)
  }

  /** Takes out what stands without an end: a half line, which never joins what comes next. */
  take(): Uint8Array {
    const taken = this.#held.slice(0, this.#heldBytes)
    this.#heldBytes = 0
    this.#lineAt = 0
    this.#overlong = false
    return taken
  }

  #extend(piece: Uint8Array, endsLine: boolean): void {
    this.#hold(this.#overlong && endsLine ? piece.subarray(0, -1) : piece)
    this.#limit()
    if (!endsLine) return
    if (this.#overlong) this.#giveRest()
    else {
      this.#drop(this.#reader.block(this.#held.subarray(0, this.#heldBytes), false))
      this.#lineAt = this.#heldBytes
    }
  }

  #limit(): void {
    const lineBytes = this.#heldBytes - this.#lineAt - (this.#held[this.#heldBytes - 1] === newline ? 1 : 0)
    if (!this.#overlong) {
      if (lineBytes <= longestLineBytes) return
      // The lines before it were held for an open string, which cannot reach over a line this long.
      if (this.#lineAt > 0) this.#reader.block(this.#held.slice(0, this.#lineAt), true)
      this.#drop(this.#lineAt)
      this.#lineAt = 0
      this.#reader.overlong(this.#held.slice(0, longestLineBytes), true)
      this.#drop(longestLineBytes)
      this.#overlong = true
    }
    while (this.#heldBytes > longestLineBytes) {
      this.#reader.overlong(this.#held.slice(0, longestLineBytes), false)
      this.#drop(longestLineBytes)
    }
  }

  #giveRest(): void {
    const rest = this.take()
    const text = rest.at(-1) === newline ? rest.subarray(0, -1) : rest
    if (text.length > 0) this.#reader.overlong(text, false)
  }

  #hold(piece: Uint8Array): void {
    const needed = this.#heldBytes + piece.length
    if (needed > this.#held.length) {
      const grown = new Uint8Array(Math.max(needed, 2 * this.#held.length))
      grown.set(this.#held.subarray(0, this.#heldBytes))
      this.#held = grown
    }
    this.#held.set(piece, this.#heldBytes)
    this.#heldBytes = needed
  }

  #drop(bytes: number): void {
    this.#held.copyWithin(0, bytes, this.#heldBytes)
    this.#heldBytes -= bytes
  }
}

/** Gives a line that stood whole in a block and is over the limit, in the same pieces. */
export function giveOverlong(line: Uint8Array, reader: BlockReader): void {
  for (let at = 0; at < line.length; at += longestLineBytes) {
    reader.overlong(line.slice(at, at + longestLineBytes), at === 0)
  }
}
