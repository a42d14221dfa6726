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

/** Maximum delay until bytes are written to the system and survive a kill, [ms]. */
const writeAfterMs = 100
/** Maximum delay until bytes are flushed to the disk and survive a power cut, [ms]. */
const syncAfterMs = 1000
/** More waiting bytes than this are written at once. */
const mostWaitingBytes = 65_536
/** Maximum kept in memory while writes fail; a disk that is full for longer costs lines. */
const mostKeptBytes = 16 << 20

/**
 * An append-only file of whole lines. Lines reach the system within a tenth of a second and the disk within a
 * second. A failed write is kept and retried from the exact byte where it stopped, so that a full disk leaves no
 * hole and no half line.
 */
export class DurableFile {
  readonly path: string
  /** Why the last attempt failed; null after a success. */
  fault: RecordingFault | null = null
  /** Null until it can be opened. */
  #file: number | null = null
  readonly #onFault: (fault: RecordingFault) => void
  readonly #lostLine: (lost: number) => string
  /** Waiting lines; `#rest`, the remainder of an incomplete write, precedes them. */
  #lines: string[] = []
  #waitingBytes = 0
  #rest: Buffer = Buffer.alloc(0)
  #lost = 0
  #unsynced = false
  #syncing = false
  #closed = false
  #writeTimer: NodeJS.Timeout | undefined
  #syncTimer: NodeJS.Timeout | undefined

  /**
   * Opens or creates the file; its folder must exist.
   *
   * @param lostLine replaces lines that could not be kept, with its line end
   * @param waits a failed open is retried like a failed write
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
      this.fault = error as RecordingFault
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

  /** Lines lost since the last successful write because no more could be kept. */
  get lost(): number {
    return this.#lost
  }

  /** Bytes in the file, without those that wait. */
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

  /** Overwrites the end of the file from an offset with text that is not shorter. */
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
   * @throws RecordingFault while writes fail; the line is kept and must not be appended again
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

  /** Writes everything to the system. */
  write(): void {
    clearTimeout(this.#writeTimer)
    this.#writeTimer = undefined
    if (this.#waitingBytes > 0) this.#attempt('write', () => this.#writeWaiting())
    if (this.#unsynced) this.#syncTimer ??= setTimeout(() => this.#syncInBackground(), syncAfterMs)
    if (this.#lost > 0) {
      const lost = this.#lost
      this.#lost = 0
      this.append(this.#lostLine(lost))
    }
  }

  #writeWaiting(): void {
    const file = this.#file ?? this.#opened()
    this.#unsynced = true
    while (this.#waitingBytes > 0) {
      // Lines are joined only when they are written: a long failure must not copy all waiting lines for each new one.
      if (this.#rest.length === 0) {
        this.#rest = Buffer.from(this.#lines.join(''))
        this.#lines = []
        this.#waitingBytes = this.#rest.length
      }
      const written = writeSync(file, this.#rest)
      this.#rest = this.#rest.subarray(written)
      this.#waitingBytes -= written
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
   * Transaction: the lines of `append` are on the disk when this returns. When a write fails, all of them are
   * removed, and the sender must send them again.
   *
   * @throws RecordingFault when a write fails; lines that waited before still wait
   */
  keep(append: () => void): void {
    this.write()
    const from = this.sizeBytes
    try {
      append()
      this.sync()
    } catch (error) {
      this.#takeBack(from)
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
      clearTimeout(this.#writeTimer)
      clearTimeout(this.#syncTimer)
      // A sync in progress uses the file and closes it when done.
      if (!this.#syncing) this.#closeFile()
    }
  }

  #closeFile(): void {
    const file = this.#file
    this.#file = null
    if (file !== null) this.#attempt('close', () => closeSync(file))
  }

  #writeLater(afterMs: number): void {
    this.#writeTimer ??= setTimeout(() => {
      this.#writeTimer = undefined
      this.#inBackground(() => this.write())
    }, afterMs)
  }

  /** Syncs in another thread: a slow disk must not stop the reading of the ports. */
  #syncInBackground(): void {
    this.#syncTimer = undefined
    if (!this.#unsynced) return
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

  /** Reports a failure in the background and retries. */
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
