import { rmSync } from 'node:fs'
import { type ArchiveOptions, openArchive } from './archive.ts'
import { archiveFolder } from './archive-folder.ts'

/** Rebuilds the index from the record files. Records that only the index still has are first restored as files. */
export function rebuildIndex(
  folder: string,
  options: ArchiveOptions,
): { records: number; notices: string[] } {
  const before = openArchive(folder, options)
  const notices = [...before.notices]
  before.close()
  const { index } = archiveFolder(folder)
  for (const side of ['', '-wal', '-shm']) rmSync(index + side, { force: true })
  const after = openArchive(folder, options)
  try {
    return { records: after.evidence().length, notices: [...notices, ...after.notices] }
  } finally {
    after.close()
  }
}
