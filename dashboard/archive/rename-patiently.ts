import { renameSync } from 'node:fs'

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
