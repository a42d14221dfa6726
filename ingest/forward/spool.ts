import {
  closeSync,
  fsyncSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  rmdirSync,
  statSync,
  unlinkSync,
  writeSync,
} from 'node:fs'
import { join } from 'node:path'

interface Segment {
  readonly path: string
  bytes: number
  lines: number
}

/** A batch of lines to send; it stays on the disk until `done`. */
export interface SpoolBatch {
  readonly text: string
  done(): void
}

const segmentBytes = 1_000_000
const flushMs = 250

/**
 * A queue of lines on the disk, bounded in bytes: when it is full, the oldest lines are dropped and counted.
 * It survives a crash; lines sent but not yet removed at a crash are sent again.
 */
export class Spool {
  readonly #folder: string
  readonly #limitBytes: number
  #segments: Segment[] = []
  #active: { readonly segment: Segment; readonly handle: number } | null = null
  #buffer: string[] = []
  #bufferBytes = 0
  #taken: Segment | null = null
  #nextNumber = 1
  #timer: NodeJS.Timeout | undefined
  /** Lines dropped because the queue was full. */
  lost = 0
  /** Why the last write failed; null when it succeeded. */
  fault: string | null = null

  constructor(folder: string, limitBytes: number) {
    this.#folder = folder
    this.#limitBytes = Math.max(limitBytes, segmentBytes)
    mkdirSync(folder, { recursive: true })
    const names = readdirSync(folder).filter((name) => /^\d{8}\.lp$/.test(name))
    for (const name of names.sort()) {
      const path = join(folder, name)
      const bytes = statSync(path).size
      this.#segments.push({ path, bytes, lines: countLines(readFileSync(path)) })
      this.#nextNumber = Number(name.slice(0, 8)) + 1
    }
  }

  /** Number of queued lines, including those being sent. */
  get waiting(): number {
    return this.#segments.reduce((sum, { lines }) => sum + lines, 0) + this.#buffer.length
  }

  push(line: string): void {
    this.#buffer.push(line)
    this.#bufferBytes += line.length + 1
    if (this.#bufferBytes >= 65_536) this.flush()
    else this.#timer ??= setTimeout(() => this.flush(), flushMs)
  }

  /** Writes the lines in memory to the disk. */
  flush(): void {
    clearTimeout(this.#timer)
    this.#timer = undefined
    if (this.#buffer.length === 0) return
    const lines = this.#buffer
    this.#buffer = []
    this.#bufferBytes = 0
    try {
      this.#write(lines)
      this.fault = null
    } catch (error) {
      // A full disk may cut a segment in mid-line. Close it: later lines go to a new segment.
      this.#rotate()
      // The mirror must never stop the recording: lines that cannot be written are lost to the mirror only.
      this.lost += lines.length
      this.fault = error instanceof Error ? error.message : String(error)
    }
    this.#bound()
  }

  #write(lines: readonly string[]): void {
    const active = this.#open()
    const bytes = Buffer.from(`${lines.join('\n')}\n`)
    for (let at = 0; at < bytes.length; ) at += writeSync(active.handle, bytes, at)
    fsyncSync(active.handle)
    active.segment.bytes += bytes.length
    active.segment.lines += lines.length
    if (active.segment.bytes >= segmentBytes) this.#rotate()
  }

  /** The oldest lines, or null when there are none. Only one batch is in flight at a time. */
  take(): SpoolBatch | null {
    if (this.#taken !== null) throw new TypeError('a batch is out already')
    this.flush()
    const segment = this.#segments[0]
    if (segment === undefined) return null
    if (this.#active?.segment === segment) this.#rotate()
    this.#taken = segment
    const text = readFileSync(segment.path, 'utf8')
    return {
      // A crash in mid-write leaves half a line.
      text: text.slice(0, text.lastIndexOf('\n') + 1),
      done: () => {
        this.#taken = null
        this.#remove(segment)
      },
    }
  }

  /** Returns the batch in flight to the queue. */
  putBack(): void {
    this.#taken = null
  }

  /** Closes the queue; deletes its folder when empty. */
  close(): void {
    this.flush()
    this.#rotate()
    try {
      rmdirSync(this.#folder)
    } catch {
      // Not empty: kept for the next start.
    }
  }

  #open(): { readonly segment: Segment; readonly handle: number } {
    if (this.#active !== null) return this.#active
    const path = join(this.#folder, `${String(this.#nextNumber++).padStart(8, '0')}.lp`)
    const segment = { path, bytes: 0, lines: 0 }
    this.#segments.push(segment)
    this.#active = { segment, handle: openSync(path, 'a') }
    return this.#active
  }

  #rotate(): void {
    if (this.#active !== null) closeSync(this.#active.handle)
    this.#active = null
  }

  #bound(): void {
    let bytes = this.#segments.reduce((sum, segment) => sum + segment.bytes, 0)
    while (bytes > this.#limitBytes) {
      const oldest = this.#segments.find((each) => each !== this.#taken && each !== this.#active?.segment)
      if (oldest === undefined) return
      bytes -= oldest.bytes
      this.lost += oldest.lines
      this.#remove(oldest)
    }
  }

  #remove(segment: Segment): void {
    this.#segments = this.#segments.filter((each) => each !== segment)
    unlinkSync(segment.path)
  }
}

function countLines(bytes: Uint8Array): number {
  let lines = 0
  for (let at = bytes.indexOf(10); at !== -1; at = bytes.indexOf(10, at + 1)) lines++
  return lines
}
