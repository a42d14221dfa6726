import { existsSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { syncFolder } from '#ingest/recording/sync-folder.ts'
import { type ArchiveOptions, openArchive } from './archive.ts'
import { diskError } from './archive-error.ts'
import { archiveFolder, makeFolder } from './archive-folder.ts'
import { headFile } from './chain-head.ts'
import { readChain } from './read-chain.ts'
import {
  makeSigningKey,
  type PublicKeyInfo,
  publicKeyFile,
  publicKeyFromBase64,
  signingKeyFile,
} from './signing-key.ts'
import { lockFolder } from './store/folder-lock.ts'
import { renamePatiently } from './write-durably.ts'

/**
 * Gives an archive a new key, for when the old one was lost or may be compromised. The old chain is unchanged,
 * stored beside the new one under its own key, and shown and verified like an imported chain.
 */
export function beginChain(folder: string, now: Date): { before: string | null; key: PublicKeyInfo } {
  const paths = archiveFolder(folder)
  makeFolder(paths.records(''))
  const lock = lockFolder(folder, now)
  try {
    const before = fingerprintOf(readChain(paths, ''))
    if (before !== null) {
      makeFolder(paths.chainFolder(before))
      renamePatiently(paths.records(''), paths.records(before))
      for (const name of [publicKeyFile, headFile])
        move(join(folder, name), join(paths.chainFolder(before), name))
      makeFolder(paths.records(''))
      syncFolder(folder)
      // The index still lists the old records under its own chain, and would restore them.
      for (const side of ['', '-wal', '-shm']) rmSync(paths.index + side, { force: true })
    }
    rmSync(join(folder, headFile), { force: true })
    // The old private key is kept: it is harmless beside its chain, and destroying a key is the owner's decision.
    move(
      join(folder, signingKeyFile),
      join(before === null ? folder : paths.chainFolder(before), 'retired-key.pem'),
    )
    return { before, key: makeSigningKey(folder).public }
  } catch (cause) {
    throw diskError('begin a new chain in', folder, cause)
  } finally {
    lock.release()
  }
}

function fingerprintOf(chain: ReturnType<typeof readChain>): string | null {
  const record = chain.find((link) => link.record !== null)?.record
  return record ? publicKeyFromBase64(record.public_key).fingerprint : null
}

function move(from: string, to: string): void {
  if (existsSync(from)) renamePatiently(from, to)
}

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
