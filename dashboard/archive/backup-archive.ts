import { copyFileSync, existsSync, readdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { syncFolder } from '#ingest/recording/sync-folder.ts'
import { ArchiveError, diskError } from './archive-error.ts'
import { type ArchiveFolder, archiveFolder, makeFolder, sequenceOf } from './archive-folder.ts'
import { headText, readHead, writeHead } from './chain-head.ts'
import { renamePatiently } from './rename-patiently.ts'
import { publicKeyFile, signingKeyFile } from './signing-key.ts'
import { flushFile, hashFile } from './write-durably.ts'

/**
 * Copies an archive into a new folder and compares every copy with its original by hash. The record files are listed
 * first, the recordings and photos are copied after them, so that a record sealed meanwhile is copied whole or not
 * at all. The index is omitted: it is rebuilt from the record files when the copy is opened.
 */
export function backupArchive(paths: ArchiveFolder, target: string): { records: number; files: number } {
  if (existsSync(target)) {
    throw new ArchiveError(
      'target-exists',
      target,
      `cannot back up to ${target}: it exists; name a new folder`,
    )
  }
  const unfinished = `${target}.unfinished`
  rmSync(unfinished, { recursive: true, force: true })
  const copy = archiveFolder(unfinished)
  let files = 0
  let records = 0
  const keep = (from: string, to: string): void => {
    copyFileSync(from, to)
    flushFile(to)
    if (hashFile(from).sha256 !== hashFile(to).sha256) throw new Error('the copy differs from the original')
    files++
  }
  try {
    for (const chain of ['', ...paths.foreignChains()]) {
      makeFolder(copy.records(chain))
      // The head first, and no more records than it counts: records sealed meanwhile are not in the copy.
      const head = headText(paths, chain)
      const count = readHead(head ?? '')?.count ?? Number.POSITIVE_INFINITY
      if (head !== null) writeHead(copy, chain, head)
      for (const id of paths.recordIds(chain).filter((each) => sequenceOf(each) <= count)) {
        keep(paths.recordFile(chain, id), copy.recordFile(chain, id))
        records++
      }
      for (const name of [signingKeyFile, publicKeyFile]) {
        const from = join(paths.chainFolder(chain), name)
        if (existsSync(from)) keep(from, join(copy.chainFolder(chain), name))
      }
      syncFolder(copy.records(chain))
    }
    for (const folder of ['recordings', 'photos', 'timestamps']) {
      const [from, to] = [join(paths.folder, folder), join(unfinished, folder)]
      if (!existsSync(from)) continue
      makeFolder(to)
      for (const name of readdirSync(from)) {
        if (!name.endsWith('.tmp')) keep(join(from, name), join(to, name))
      }
      syncFolder(to)
    }
    renamePatiently(unfinished, target)
    return { records, files }
  } catch (cause) {
    rmSync(unfinished, { recursive: true, force: true })
    throw cause instanceof ArchiveError ? cause : diskError('back up to', target, cause)
  }
}
