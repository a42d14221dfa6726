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

/** Lines taken out for sending; they stay on the disk until `done`. */
export interface SpoolBatch {
  readonly text: string
  readonly lines: number
  done(): void
}

const segmentBytes = 1_000_000
const flushMs = 250

/**
 * A queue of lines on the disk, bounded in bytes: what does not fit any more pushes out the oldest and is counted.
 * It survives the program; lines sent but not yet crossed off when the program died are sent again.
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
  /** Lines that had to go because the queue was full. */
  lost = 0
  /** Why the disk would not take the newest lines; null when it did. */
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

  /** Lines that wait, those being sent included. */
  get waiting(): number {
    return this.#segments.reduce((sum, { lines }) => sum + lines, 0) + this.#buffer.length
  }

  push(line: string): void {
    this.#buffer.push(line)
    this.#bufferBytes += line.length + 1
    if (this.#bufferBytes >= 65_536) this.flush()
    else this.#timer ??= setTimeout(() => this.flush(), flushMs)
  }

  /** Writes what is held in memory to the disk. */
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
      // A segment that a full disk cut in mid-line is closed: what comes later stands in a new one.
      this.#rotate()
      // The mirror must never stop the recording: what the disk will not take is lost to the mirror alone.
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

  /** The oldest lines, or null when there are none. Only one batch is out at a time. */
  take(): SpoolBatch | null {
    if (this.#taken !== null) throw new TypeError('a batch is out already')
    this.flush()
    const segment = this.#segments[0]
    if (segment === undefined) return null
    if (this.#active?.segment === segment) this.#rotate()
    this.#taken = segment
    const text = readFileSync(segment.path, 'utf8')
    return {
      // A program that died in mid-write left half a line.
      text: text.slice(0, text.lastIndexOf('\n') + 1),
      lines: segment.lines,
      done: () => {
        this.#taken = null
        this.#remove(segment)
      },
    }
  }

  /** Puts the batch that is out back in its place. */
  putBack(): void {
    this.#taken = null
  }

  /** Closes the queue; an empty one leaves no folder behind. */
  close(): void {
    this.flush()
    this.#rotate()
    try {
      rmdirSync(this.#folder)
    } catch {
      // Something waits in it for the next start.
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
