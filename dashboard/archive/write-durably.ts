import { createHash, randomBytes } from 'node:crypto'
import { closeSync, existsSync, fsyncSync, openSync, readSync, renameSync, rmSync, writeSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { syncFolder } from '#ingest/recording/sync-folder.ts'
import { diskError } from './archive-error.ts'

const chunkBytes = 1 << 20

/**
 * Writes a file atomically, so that after a crash it exists whole or not at all: temporary file, flush, rename, flush
 * of the folder. No partial file ever has the final name.
 */
export function writeFileDurably(path: string, bytes: Uint8Array | string, mode = 0o644): void {
  const data = typeof bytes === 'string' ? Buffer.from(bytes, 'utf8') : bytes
  const temporary = temporaryName(path)
  try {
    const file = openSync(temporary, 'wx', mode)
    try {
      writeAll(file, data)
      fsyncSync(file)
    } finally {
      closeSync(file)
    }
    renamePatiently(temporary, path)
    syncFolder(dirname(path))
  } catch (cause) {
    rmSync(temporary, { force: true })
    throw diskError('write', path, cause)
  }
}

export interface KeptFile {
  readonly sha256: string
  readonly bytes: number
}

/**
 * Copies a file into a folder under its SHA-256, flushed like `writeFileDurably`, and returns the
 * hash of the bytes actually written. An existing file with those bytes is not changed.
 */
export function keepByHash(source: string, folder: string, extension: string): KeptFile {
  const temporary = temporaryName(join(folder, 'incoming'))
  try {
    const output = openSync(temporary, 'wx', 0o644)
    let kept: KeptFile
    try {
      kept = hashFile(source, (part) => writeAll(output, part))
      fsyncSync(output)
    } finally {
      closeSync(output)
    }
    const { sha256 } = kept
    const path = join(folder, sha256 + extension)
    if (existsSync(path) && hashFile(path).sha256 === sha256) rmSync(temporary)
    else {
      renamePatiently(temporary, path)
      syncFolder(folder)
    }
    return kept
  } catch (cause) {
    rmSync(temporary, { force: true })
    throw diskError('keep', source, cause)
  }
}

/**
 * SHA-256 and length of a file, read in pieces to bound the memory of a day-long recording.
 *
 * @param take called with each piece, which is valid until it returns
 */
export function hashFile(path: string, take: (part: Uint8Array) => void = () => {}): KeptFile {
  const file = openSync(path, 'r')
  try {
    const hash = createHash('sha256')
    const chunk = Buffer.allocUnsafe(chunkBytes)
    let bytes = 0
    for (let count = readSync(file, chunk); count > 0; count = readSync(file, chunk)) {
      const part = chunk.subarray(0, count)
      hash.update(part)
      take(part)
      bytes += count
    }
    return { sha256: hash.digest('hex'), bytes }
  } finally {
    closeSync(file)
  }
}

/** SHA-256 of bytes or of a text's UTF-8 bytes, lower-case hex. */
export function sha256Hex(data: Uint8Array | string): string {
  return createHash('sha256').update(data).digest('hex')
}

function temporaryName(path: string): string {
  return `${path}.${randomBytes(6).toString('hex')}.tmp`
}

function writeAll(file: number, data: Uint8Array): void {
  for (let done = 0; done < data.byteLength; ) done += writeSync(file, data, done)
}

export function flushFile(path: string): void {
  const file = openSync(path, 'r+')
  try {
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
}

/** Error codes on Windows while a virus scanner or an indexer briefly has a new file open. */
const heldCodes: readonly (string | undefined)[] = ['EPERM', 'EACCES', 'EBUSY']
const mostTries = 20
const waitMs = 50

/**
 * Renames and replaces any existing file. On Windows another program may briefly lock a new file:
 * there the rename is retried for a second. Elsewhere the first error counts.
 */
export function renamePatiently(from: string, to: string, isPatient = process.platform === 'win32'): void {
  for (let tries = 1; ; tries++) {
    try {
      renameSync(from, to)
      return
    } catch (cause) {
      const isHeld = heldCodes.includes((cause as NodeJS.ErrnoException).code)
      if (!isPatient || !isHeld || tries === mostTries) throw cause
      Atomics.wait(new Int32Array(new SharedArrayBuffer(Int32Array.BYTES_PER_ELEMENT)), 0, 0, waitMs)
    }
  }
}
