import { newline } from './ascii.ts'

/** Longest line, [bytes]: more is a wrong baud rate, a broken logger or an attack. */
export const longestLineBytes = 65_536

/** Receives the blocks of a `LineBlocks`. */
export interface BlockReader {
  /**
   * Whole lines; the block ends with a newline unless `isLast`.
   *
   * @param isLast no later line belongs to these: an open string stays open
   * @returns number of bytes used: fewer than all only when the last point may continue in the next block
   */
  block(bytes: Uint8Array, isLast: boolean): number
  /** A piece of a line over the limit, `longestLineBytes` long except the last; `first` is true for the first piece. */
  overlong(piece: Uint8Array, first: boolean): void
}

/**
 * Joins chunks into blocks of whole lines. Copies only lines split between chunks; memory is bounded by the longest
 * line. The lines do not depend on the chunk boundaries.
 */
export class LineBlocks {
  readonly #reader: BlockReader
  #held: Uint8Array = new Uint8Array(256)
  #heldBytes = 0
  /** Start of the unfinished line in the held bytes. */
  #lineAt = 0
  /** The held line exceeds the limit and is passed on in pieces. */
  #overlong = false

  constructor(reader: BlockReader) {
    this.#reader = reader
  }

  push(chunk: Uint8Array): void {
    let rest = chunk
    // Only lines split between chunks are copied; the others are read in place.
    while (rest.length > 0 && (this.#heldBytes > 0 || this.#overlong)) {
      const end = rest.indexOf(newline)
      const piece = end === -1 ? rest : rest.subarray(0, end + 1)
      rest = rest.subarray(piece.length)
      this.#extend(piece, end !== -1)
    }
    if (rest.length === 0) return
    const last = rest.lastIndexOf(newline)
    const used = this.#reader.block(rest.subarray(0, last + 1), false)
    if (used === rest.length) return
    this.#hold(rest.subarray(used))
    this.#lineAt = last + 1 - used
    this.#limit()
  }

  /** End of the input: the rest counts as lines. */
  end(): void {
    if (this.#overlong) this.#giveRest()
    else if (this.#heldBytes > 0) this.#reader.block(this.take(), true)
  }

  /** Removes and returns the half line at the end; it must never join the next bytes. */
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
      // Earlier lines were held for an open string, which cannot span a line this long.
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

/** Passes on an overlong line that is whole in a block, in the same pieces. */
export function giveOverlong(line: Uint8Array, reader: BlockReader): void {
  for (let at = 0; at < line.length; at += longestLineBytes) {
    reader.overlong(line.slice(at, at + longestLineBytes), at === 0)
  }
}
