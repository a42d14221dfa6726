import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { diskError } from './archive-error.ts'

/** File layout of an archive. `chain` is '' for the archive's own chain, else a key's fingerprint. */
export interface ArchiveFolder {
  readonly folder: string
  readonly recordings: string
  readonly photos: string
  readonly index: string
  /** Folder of a chain: its public key and its `records`. */
  chainFolder(chain: string): string
  records(chain: string): string
  recordFile(chain: string, id: string): string
  recordingFile(sha256: string): string
  photoFile(sha256: string): string
  /** Names of the record files of a chain in chain order, without `.json`. */
  recordIds(chain: string): string[]
  /** Fingerprints of the chains imported from other archives. */
  foreignChains(): string[]
}

const recordFileName = /^\d{4,}-[a-z0-9-]+\.json$/

export function archiveFolder(folder: string): ArchiveFolder {
  const chainFolder = (chain: string) => (chain === '' ? folder : join(folder, 'chains', chain))
  const records = (chain: string) => join(chainFolder(chain), 'records')
  return {
    folder,
    recordings: join(folder, 'recordings'),
    photos: join(folder, 'photos'),
    index: join(folder, 'index.sqlite'),
    chainFolder,
    records,
    recordFile: (chain, id) => join(records(chain), `${id}.json`),
    recordingFile: (sha256) => join(folder, 'recordings', `${sha256}.lp`),
    photoFile: (sha256) => join(folder, 'photos', sha256),
    recordIds: (chain) =>
      names(records(chain))
        .filter((name) => recordFileName.test(name))
        .map((name) => name.slice(0, -'.json'.length))
        .sort((a, b) => sequenceOf(a) - sequenceOf(b)),
    foreignChains: () => names(join(folder, 'chains')).filter((name) => /^[0-9a-f]{16}$/.test(name)),
  }
}

/** Number of a record, from its id. */
export const sequenceOf = (id: string): number => Number(id.slice(0, id.indexOf('-')))

/** True for a folder that looks like an archive: it has a `records` folder. */
export function isArchiveFolder(folder: string): boolean {
  return existsSync(join(folder, 'records'))
}

export function makeFolder(path: string): void {
  try {
    mkdirSync(path, { recursive: true })
  } catch (cause) {
    throw diskError('make the folder', path, cause)
  }
}

/** Runs a task with a temporary folder, which is removed after it. */
export function inTemporaryFolder<T>(purpose: string, work: (folder: string) => T): T {
  const folder = mkdtempSync(join(tmpdir(), `stillhold-${purpose}-`))
  try {
    return work(folder)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** @throws ArchiveError when the disk refuses */
export function readEvidence(path: string, operation = 'read'): Buffer {
  try {
    return readFileSync(path)
  } catch (cause) {
    throw diskError(operation, path, cause)
  }
}

function names(folder: string): string[] {
  return existsSync(folder) ? readdirSync(folder).sort() : []
}
