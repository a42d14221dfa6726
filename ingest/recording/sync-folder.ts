import { closeSync, fdatasyncSync, openSync } from 'node:fs'

/** Error codes of systems and disks that cannot open or sync a folder. */
const unsupported = ['EISDIR', 'EPERM', 'EACCES', 'EINVAL', 'EBADF', 'ENOTSUP', 'ENOSYS']

/** Flushes a folder to the disk: only then does the name of a new file survive a power cut. */
export function syncFolder(path: string): void {
  let folder: number | null = null
  try {
    folder = openSync(path, 'r')
    fdatasyncSync(folder)
  } catch (error) {
    if (!unsupported.includes((error as NodeJS.ErrnoException).code ?? '')) throw error
  } finally {
    if (folder !== null) closeSync(folder)
  }
}
