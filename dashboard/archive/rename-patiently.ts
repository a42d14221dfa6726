import { renameSync } from 'node:fs'

/** What Windows answers while a virus scanner or an indexer has a new file open for a moment. */
const heldCodes: readonly (string | undefined)[] = ['EPERM', 'EACCES', 'EBUSY']
const mostTries = 20
const waitMs = 50

/**
 * Renames over whatever has the name. On Windows a file that was just written may be held by another program for a
 * moment: there it is tried again for a second. Elsewhere the first answer counts.
 */
export function renamePatiently(from: string, to: string, isPatient = process.platform === 'win32'): void {
  for (let tries = 1; ; tries++) {
    try {
      renameSync(from, to)
      return
    } catch (cause) {
      const isHeld = heldCodes.includes((cause as NodeJS.ErrnoException).code)
      if (!isPatient || !isHeld || tries === mostTries) throw cause
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, waitMs)
    }
  }
}
