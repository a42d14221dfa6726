import { closeSync, fdatasyncSync, openSync } from 'node:fs'

/** Systems and disks that do not let a folder be opened or synced answer so. */
const unsupported = ['EISDIR', 'EPERM', 'EACCES', 'EINVAL', 'EBADF', 'ENOTSUP', 'ENOSYS']

/** Forces a folder to the disk: only then is the name of a new file in it safe from a power cut. */
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
