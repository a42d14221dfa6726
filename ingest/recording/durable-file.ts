import {
  closeSync,
  fdatasync,
  fdatasyncSync,
  fstatSync,
  ftruncateSync,
  openSync,
  readSync,
  writeSync,
} from 'node:fs'
import { dirname } from 'node:path'
import { type RecordingFault, type RecordingOperation, recordingFault } from './recording-fault.ts'
import { syncFolder } from './sync-folder.ts'

/** Bytes are handed to the system at the latest after this, and survive a kill from then on, [ms]. */
const writeAfterMs = 100
/** Bytes are forced to the disk at the latest after this, and survive a power cut from then on, [ms]. */
const syncAfterMs = 1000
/** More than this waiting is handed to the system at once. */
const mostWaitingBytes = 65_536
/** While the disk refuses, this much is kept for when it takes again; a disk that is full for longer costs lines. */
const mostKeptBytes = 16 << 20

/**
 * A file that only grows by whole lines. Nothing waits longer than a tenth of a second for the system, or a second
 * for the disk. What the disk refuses is kept and tried again from the exact byte where it stopped, so that a disk
 * that was full for a while leaves no hole and no half line.
 */
export class DurableFile {
  readonly path: string
  /** Why the last attempt failed; null after one that went well. */
  fault: RecordingFault | null = null
  /** Null until it can be opened. */
  #file: number | null = null
  readonly #onFault: (fault: RecordingFault) => void
  readonly #lostLine: (lost: number) => string
  /** Lines that wait, and before them the rest of an attempt that stopped half way. */
  #lines: string[] = []
  #waitingBytes = 0
  #rest: Buffer = Buffer.alloc(0)
  #lost = 0
  #unsynced = false
  #syncing = false
  #closed = false
  #writeTimer: NodeJS.Timeout | null = null
  #syncTimer: NodeJS.Timeout | null = null

  /**
   * Opens the file, or makes it; its folder must exist.
   *
   * @param lostLine stands in place of lines that could not be kept, with its line end
   * @param waits where the file cannot be opened, it is tried again as a write is
   */
  constructor(
    path: string,
    onFault: (fault: RecordingFault) => void,
    lostLine: (lost: number) => string,
    waits = false,
  ) {
    this.path = path
    this.#lostLine = lostLine
    this.#onFault = onFault
    try {
      this.#opened()
    } catch (error) {
      if (!waits) throw error
      this.fault = recordingFault(error, 'open', path)
    }
  }

  #opened(): number {
    try {
      this.#file ??= openSync(this.path, 'a+')
      if (this.sizeBytes === 0) syncFolder(dirname(this.path))
      return this.#file
    } catch (error) {
      throw recordingFault(error, 'open', this.path)
    }
  }

  /** Lines that came when no more could be kept, since the disk took something last. */
  get lost(): number {
    return this.#lost
  }

  /** Bytes in the file; those that wait do not count. */
  get sizeBytes(): number {
    return this.#file === null ? 0 : fstatSync(this.#file).size
  }

  read(from: number, to: number): Buffer {
    const bytes = Buffer.alloc(to - from)
    let length = 0
    while (length < bytes.length) {
      const got = readSync(this.#opened(), bytes, length, bytes.length - length, from + length)
      if (got === 0) break
      length += got
    }
    return bytes.subarray(0, length)
  }

  /** Writes over the end of the file, from a place on, with text that is no shorter. */
  replaceEnd(from: number, text: string): void {
    const bytes = Buffer.from(text)
    if (from + bytes.length < this.sizeBytes) throw new RangeError('the end of a recording may not shrink')
    this.#attempt('recover', () => {
      const file = openSync(this.path, 'r+')
      try {
        for (let at = 0; at < bytes.length; ) at += writeSync(file, bytes, at, bytes.length - at, from + at)
        fdatasyncSync(file)
      } finally {
        closeSync(file)
      }
    })
  }

  /**
   * @param line with its line end
   * @throws RecordingFault while the disk refuses; the line is kept and must not be given again
   */
  append(line: string): void {
    if (this.#closed) throw new TypeError('the recording is closed')
    if (this.#waitingBytes > mostKeptBytes) this.#lost++
    else {
      this.#lines.push(line)
      this.#waitingBytes += line.length
    }
    if (this.fault !== null || this.#waitingBytes > mostWaitingBytes) this.write()
    else this.#writeLater(writeAfterMs)
  }

  /** Hands everything to the system. */
  write(): void {
    if (this.#writeTimer !== null) clearTimeout(this.#writeTimer)
    this.#writeTimer = null
    if (this.#waitingBytes === 0) return
    this.#attempt('write', () => {
      const file = this.#file ?? this.#opened()
      this.#unsynced = true
      while (this.#waitingBytes > 0) {
        // Lines are joined only when their turn comes: a disk that refuses for long must not cost a copy of all a line.
        if (this.#rest.length === 0) {
          this.#rest = Buffer.from(this.#lines.join(''))
          this.#lines = []
          this.#waitingBytes = this.#rest.length
        }
        const written = writeSync(file, this.#rest)
        this.#rest = this.#rest.subarray(written)
        this.#waitingBytes -= written
      }
    })
    this.#syncTimer ??= setTimeout(() => this.#syncInBackground(), syncAfterMs)
    if (this.#lost > 0) {
      const lost = this.#lost
      this.#lost = 0
      this.append(this.#lostLine(lost))
    }
  }

  /** Everything is on the disk when this returns. */
  sync(): void {
    this.write()
    if (!this.#unsynced) return
    this.#attempt('sync', () => fdatasyncSync(this.#opened()))
    this.#unsynced = false
  }

  /**
   * What `append` appends is on the disk when this returns. When the disk refuses, all of it is taken back: whoever
   * sent it is told so, and sends it again.
   *
   * @throws RecordingFault when the disk refuses; what waited before still waits
   */
  keep(append: () => void): void {
    this.write()
    const from = this.sizeBytes
    try {
      append()
      this.sync()
    } catch (error) {
      if (!this.#closed) this.#takeBack(from)
      throw error
    }
  }

  #takeBack(from: number): void {
    this.#lines = []
    this.#rest = Buffer.alloc(0)
    this.#waitingBytes = 0
    this.#lost = 0
    if (this.#file !== null) ftruncateSync(this.#file, from)
  }

  close(): void {
    if (this.#closed) return
    try {
      this.sync()
    } finally {
      this.#closed = true
      if (this.#writeTimer !== null) clearTimeout(this.#writeTimer)
      if (this.#syncTimer !== null) clearTimeout(this.#syncTimer)
      // A sync under way in its thread holds the file; it closes it when done.
      if (!this.#syncing) this.#closeFile()
    }
  }

  #closeFile(): void {
    const file = this.#file
    if (file !== null) this.#attempt('close', () => closeSync(file))
  }

  #writeLater(afterMs: number): void {
    this.#writeTimer ??= setTimeout(() => {
      this.#writeTimer = null
      this.#inBackground(() => this.write())
    }, afterMs)
  }

  /** A slow disk must not stop the reading of the ports: the wait is another thread's. */
  #syncInBackground(): void {
    this.#syncTimer = null
    if (!this.#unsynced || this.#closed) return
    this.#unsynced = false
    this.#syncing = true
    fdatasync(this.#opened(), (error) => {
      this.#syncing = false
      if (error !== null) {
        this.#unsynced = true
        this.#inBackground(() => this.#fail(recordingFault(error, 'sync', this.path)))
      }
      if (this.#closed) this.#inBackground(() => this.#closeFile())
    })
  }

  /** What fails while nobody waits for it is told, and tried again. */
  #inBackground(act: () => void): void {
    try {
      act()
    } catch (error) {
      if (!this.#closed) this.#writeLater(syncAfterMs)
      this.#onFault(recordingFault(error, 'write', this.path))
    }
  }

  #attempt(operation: RecordingOperation, act: () => void): void {
    try {
      act()
      this.fault = null
    } catch (error) {
      this.#fail(recordingFault(error, operation, this.path))
    }
  }

  #fail(fault: RecordingFault): never {
    this.fault = fault
    throw fault
  }
}
