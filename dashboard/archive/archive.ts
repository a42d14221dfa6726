import { existsSync, statSync } from 'node:fs'
import { ArchiveError, diskError } from './archive-error.ts'
import { type ArchiveFolder, archiveFolder, isArchiveFolder, makeFolder } from './archive-folder.ts'
import { backupArchive } from './backup-archive.ts'
import { type ImportReport, importArchive } from './import-archive.ts'
import { mergeChains } from './merge-chains.ts'
import { reconcile, removeHalfWritten } from './reconcile.ts'
import type { RecordDraft, RecordFilter, RecordSummary, SealedRecord } from './record.ts'
import { recordSections, summarizeRecord } from './record-summary.ts'
import { matchesText } from './record-text-search.ts'
import { sealRecord } from './seal-record.ts'
import {
  keyIsExposed,
  makeSigningKey,
  type PublicKeyInfo,
  publicKeyFromBase64,
  readSigningKey,
  type SigningKey,
  signingKeyFile,
} from './signing-key.ts'
import { type FolderLock, lockFolder } from './store/folder-lock.ts'
import { type IndexedRecord, openRecordIndex, type RecordIndex } from './store/record-index.ts'
import { keepByHash, sha256Hex, writeFileDurably } from './write-durably.ts'

export interface ArchiveOptions {
  /** Version of the program, written into every record it seals. */
  readonly programVersion: string
  /** Wall clock of the seal; for tests. */
  readonly now?: () => Date
  /** Reads the record files beside a running program: no lock, nothing written, `seal` and `import` refused. */
  readonly readOnly?: boolean
}

/** The sealed evidence of one workshop: its own chain of records and those brought from other machines. */
export interface Archive {
  readonly folder: string
  /** What was found and put right when the archive was opened, a line each; empty when all was well. */
  readonly notices: readonly string[]
  /** Seals a record. When it returns, the record survives a power cut. @throws ArchiveError; then nothing is sealed. */
  seal(draft: RecordDraft): SealedRecord
  /** Newest first. */
  list(filter?: RecordFilter): RecordSummary[]
  /** By id (`0001-left-feed`), by address (`0001-left-feed@chain`) or by number (`1`). @throws ArchiveError `not-found` */
  get(id: string): SealedRecord
  /** The sealed text, byte for byte as hashed and signed. */
  getText(id: string): string
  /** The address of a record that `evidence` gave: its id, with `@chain` when it came from another archive. */
  addressOf(record: SealedRecord): string
  /** Path of the kept recording of a record, by its id or as the record itself; null for evidence without one. */
  recordingPath(record: string | SealedRecord): string | null
  /** Path of a kept photo of that hash; null when the archive has none. */
  photoPath(sha256: string): string | null
  /** Every record in the order it was sealed, over all chains; within a chain always in its own order. */
  evidence(): SealedRecord[]
  publicKey(): PublicKeyInfo
  /** The key that signs; certificates are signed with it too. */
  signingKey(): SigningKey
  /** Copies the archive into a new folder; safe while a hold is running. */
  backup(path: string): { records: number; files: number }
  import(path: string, progress?: (share: number) => void): ImportReport
  close(): void
}

/**
 * Opens the archive in a folder, making it on first use: key pair, folders, index. Checks the index, rebuilds it from
 * the record files when it is damaged, and keeps a second program out.
 *
 * @throws ArchiveError `in-use`, `no-archive`, `key-missing`, `key-unreadable` or `disk`
 */
export function openArchive(folder: string, options: ArchiveOptions): Archive {
  const now = options.now ?? (() => new Date())
  const mayWrite = options.readOnly !== true
  const paths = archiveFolder(folder)
  if (!mayWrite) {
    if (!isArchiveFolder(folder)) {
      throw new ArchiveError('no-archive', folder, `no archive at ${folder}: choose its folder with --data`)
    }
    return assemble(paths, openKey(paths, false), openRecordIndex(null), null, options.programVersion, now)
  }
  makeFolder(folder)
  let lock: FolderLock
  try {
    lock = lockFolder(folder, now())
  } catch (cause) {
    throw cause instanceof ArchiveError ? cause : diskError('write to', folder, cause)
  }
  try {
    for (const each of [paths.records(''), paths.recordings, paths.photos]) makeFolder(each)
    for (const each of [paths.recordings, paths.photos]) removeHalfWritten(each)
    const key = openKey(paths, true)
    return assemble(paths, key, openIndex(paths), lock, options.programVersion, now)
  } catch (cause) {
    lock.release()
    throw cause
  }
}

function openKey(paths: ArchiveFolder, mayWrite: boolean): SigningKey {
  const key = readSigningKey(paths.folder)
  if (key) return key
  if (mayWrite && paths.recordIds('').length === 0) return makeSigningKey(paths.folder)
  throw new ArchiveError(
    'key-missing',
    paths.folder,
    `${signingKeyFile} is missing in ${paths.folder} although records are sealed there: put it back from a backup, ` +
      'or begin a new chain with stillhold archive key --new',
  )
}

function openIndex(paths: ArchiveFolder): RecordIndex {
  try {
    return openRecordIndex(paths.index)
  } catch (cause) {
    if (cause instanceof ArchiveError) throw cause
    if (statSync(paths.index, { throwIfNoEntry: false })?.isDirectory()) {
      const message = `${paths.index} is a folder: move it away, and the index is made anew from the record files`
      throw new ArchiveError('disk', paths.index, message, cause)
    }
    throw diskError('open the index', paths.index, cause)
  }
}

function assemble(
  paths: ArchiveFolder,
  key: SigningKey,
  index: RecordIndex,
  lock: FolderLock | null,
  programVersion: string,
  now: () => Date,
): Archive {
  const notices: string[] = []
  if (index.replaced !== null) {
    notices.push(`the index was damaged (${index.replaced}); made anew from the record files`)
  }
  if (keyIsExposed(paths.folder)) {
    notices.push(`${signingKeyFile} can be read by others on this computer; run: chmod 600 on it`)
  }
  notices.push(...reconcile(paths, index, lock !== null), ...missingRecordings(paths, index))

  const find = (id: string): IndexedRecord => {
    const found = findRecord(index, id)
    if (found) return found
    throw new ArchiveError(
      'not-found',
      paths.folder,
      `no record ${id} in ${paths.folder}: see the list of records`,
    )
  }
  const mustWrite = (): void => {
    if (lock === null) throw new TypeError('the archive was opened for reading only')
  }

  return {
    folder: paths.folder,
    notices,
    seal(draft) {
      mustWrite()
      const recording = keepRecording(paths, draft.recordingPath)
      const photos = draft.photos.map((photo) => keepPhoto(paths, photo))
      const last = index.last('')
      const end = { sequence: last?.sequence ?? 0, sha256: last?.sha256 ?? null }
      const { record, text } = sealRecord(draft, { recording, photos }, end, key, programVersion, now())
      writeFileDurably(paths.recordFile('', record.id), text)
      index.put({ chain: '', sequence: record.sequence, id: record.id, sha256: sha256Hex(text), text })
      return record
    },
    list(filter = {}) {
      return index
        .newestFirst({ kind: filter.kind, verdict: filter.verdict })
        .map((row) => ({ row, record: JSON.parse(row.text) as SealedRecord }))
        .filter(
          ({ record }) => filter.section === undefined || recordSections(record).includes(filter.section),
        )
        .filter(({ record }) => filter.text === undefined || matchesText(record, filter.text))
        .map(({ row, record }) => summarizeRecord(record, address(row), row.chain || null))
    },
    get: (id) => JSON.parse(find(id).text),
    getText: (id) => find(id).text,
    addressOf({ id, public_key }) {
      return public_key === key.public.base64 ? id : `${id}@${publicKeyFromBase64(public_key).fingerprint}`
    },
    recordingPath(record) {
      const { recording } =
        typeof record === 'string' ? (JSON.parse(find(record).text) as SealedRecord) : record
      return recording && paths.recordingFile(recording.sha256)
    },
    photoPath(sha256) {
      const path = /^[0-9a-f]{64}$/.test(sha256) ? paths.photoFile(sha256) : null
      return path !== null && existsSync(path) ? path : null
    },
    evidence: () =>
      mergeChains(index.chains().map((chain) => index.chain(chain).map((row) => JSON.parse(row.text)))),
    publicKey: () => key.public,
    signingKey: () => key,
    backup: (path) => backupArchive(paths, path),
    import(path, progress) {
      mustWrite()
      const report = importArchive(paths, key.public, path, progress)
      reconcile(paths, index, true)
      return report
    },
    close() {
      index.close()
      lock?.release()
    },
  }
}

/** A hold without its recording cannot be checked: better told at the start than when it is asked for. */
function missingRecordings(paths: ArchiveFolder, index: RecordIndex): string[] {
  const missing = index.chains().flatMap((chain) =>
    index.chain(chain).flatMap(({ id, text }) => {
      const { recording } = JSON.parse(text) as SealedRecord
      return recording && !existsSync(paths.recordingFile(recording.sha256)) ? [id] : []
    }),
  )
  if (missing.length === 0) return []
  const [first, ...others] = missing
  const more = others.length > 0 ? ` (and of ${others.length} more)` : ''
  return [`${first}${more}: its recording is gone from ${paths.recordings}; restore it from a backup`]
}

function keepRecording(paths: ArchiveFolder, path: string | null): SealedRecord['recording'] {
  if (path === null) return null
  const { sha256, bytes } = keepByHash(path, paths.recordings, '.lp')
  return { name: path.replace(/^.*[\\/]/, ''), sha256, bytes }
}

function keepPhoto(
  paths: ArchiveFolder,
  photo: RecordDraft['photos'][number],
): SealedRecord['photos'][number] {
  const sha256 = sha256Hex(photo.bytes)
  const path = paths.photoFile(sha256)
  if (!existsSync(path)) writeFileDurably(path, photo.bytes)
  return { name: photo.name, sha256, bytes: photo.bytes.byteLength }
}

function findRecord(index: RecordIndex, id: string): IndexedRecord | null {
  const at = id.lastIndexOf('@')
  if (at > 0) {
    const chain = index.chains().find((each) => each !== '' && each.startsWith(id.slice(at + 1)))
    return chain === undefined ? null : index.get(chain, id.slice(0, at))
  }
  if (/^\d+$/.test(id)) return index.chain('').find((row) => row.sequence === Number(id)) ?? null
  return index.get('', id)
}

function address(row: IndexedRecord): string {
  return row.chain === '' ? row.id : `${row.id}@${row.chain}`
}
