import { existsSync, statSync } from 'node:fs'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { ArchiveError, diskError } from './archive-error.ts'
import { type ArchiveFolder, archiveFolder, isArchiveFolder, makeFolder } from './archive-folder.ts'
import { backupArchive } from './backup-archive.ts'
import { headState, headText, readHead, signHead, writeHead } from './chain-head.ts'
import { type ImportReport, importArchive } from './import-archive.ts'
import { mergeChains } from './merge-chains.ts'
import { grouped } from './page/figure-words.ts'
import { reconcile, removeHalfWritten } from './reconcile.ts'
import type { KeptRecord, RecordDraft, RecordFilter, RecordSummary, SealedRecord } from './record.ts'
import { recordSections, summarizeRecord } from './record-summary.ts'
import { matchesText } from './record-text-search.ts'
import { clockFaults } from './record-times.ts'
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
  /** Version of the program, written into every sealed record. */
  readonly programVersion: string
  /** Wall clock of the seal; for tests. */
  readonly now?: () => Date
  /** Called with each sign of a wrong clock when a record is sealed; the record is still sealed. */
  readonly caution?: (line: string) => void
  /** Opens read-only beside a running program: no lock, no writes, `seal` and `import` refused. */
  readonly readOnly?: boolean
}

/** The sealed evidence of one workshop: its own chain of records and the imported chains. */
export interface Archive {
  readonly folder: string
  /** Faults found and repaired when the archive was opened, one line each; empty when there were none. */
  readonly notices: readonly string[]
  /** Seals a record. On return, the record survives a power cut. @throws ArchiveError; then nothing is sealed. */
  seal(draft: RecordDraft): SealedRecord
  /** Newest first. */
  list(filter?: RecordFilter): RecordSummary[]
  /** By id (`0001-left-feed`), by address (`0001-left-feed@chain`) or by number (`1`). @throws ArchiveError `not-found` */
  get(id: string): SealedRecord
  /** The sealed text, exactly the bytes that were hashed and signed. */
  getText(id: string): string
  /** The address of a record from `evidence`: its id, with `@chain` when imported from another archive. */
  addressOf(record: SealedRecord): string
  /** Path of a record's stored recording, by its id or the record; null for evidence without one. */
  recordingPath(record: string | SealedRecord): string | null
  /** Path of the stored photo with that hash; null when the archive has none. */
  photoPath(sha256: string): string | null
  /** Every record in the order it was sealed, over all chains; within a chain always in chain order. */
  evidence(): SealedRecord[]
  /** The same with the text and recording of each. */
  kept(): KeptRecord[]
  keptRecord(id: string): KeptRecord
  publicKey(): PublicKeyInfo
  /** The key that signs records and test reports. */
  signingKey(): SigningKey
  /** Copies the archive into a new folder; safe while a hold is running. */
  backup(path: string): { records: number; files: number }
  import(path: string, progress?: (share: number) => void): ImportReport
  close(): void
}

/**
 * Opens the archive in a folder, creating key pair, folders and index on first use. Checks the index, rebuilds it from
 * the record files when it is damaged, and locks out a second program.
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
    return assemble(paths, openKey(paths, false), openRecordIndex(null), null, options, now)
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
    return assemble(paths, key, openIndex(paths), lock, options, now)
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
    `${signingKeyFile} is missing in ${paths.folder} although records are sealed there: restore it from a backup, ` +
      'or begin a new chain with stillhold archive key --new',
  )
}

function openIndex(paths: ArchiveFolder): RecordIndex {
  try {
    return openRecordIndex(paths.index)
  } catch (cause) {
    if (cause instanceof ArchiveError) throw cause
    if (statSync(paths.index, { throwIfNoEntry: false })?.isDirectory()) {
      const message = `${paths.index} is a folder: move it away; the index is then rebuilt from the record files`
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
  { programVersion, caution = () => {} }: ArchiveOptions,
  now: () => Date,
): Archive {
  const notices: string[] = []
  if (index.replaced !== null) {
    notices.push(`the index was damaged (${index.replaced}); rebuilt from the record files`)
  }
  if (keyIsExposed(paths.folder)) {
    notices.push(`${signingKeyFile} can be read by others on this computer; run: chmod 600 on it`)
  }
  const mayWrite = lock !== null
  notices.push(...reconcile(paths, index, mayWrite))
  const read = (chain: string) =>
    index.chain(chain).map((row) => ({ ...row, record: JSON.parse(row.text) as SealedRecord }))
  const ownRecords = read('')
  const foreign = index.chains().filter((chain) => chain !== '')
  notices.push(...missingRecordings(paths, [ownRecords, ...foreign.map(read)].flat()))
  refuseForeignKey(paths, ownRecords, key)
  notices.push(...checkHead(paths, ownRecords, key, mayWrite ? now() : null))

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
    if (!mayWrite) throw new TypeError('the archive was opened for reading only')
  }

  const evidence = (): SealedRecord[] =>
    mergeChains(index.chains().map((chain) => index.chain(chain).map((row) => JSON.parse(row.text))))
  const addressOf = ({ id, public_key }: SealedRecord): string =>
    public_key === key.public.base64 ? id : `${id}@${publicKeyFromBase64(public_key).fingerprint}`
  const recordingPath = (record: string | SealedRecord): string | null => {
    const { recording } =
      typeof record === 'string' ? (JSON.parse(find(record).text) as SealedRecord) : record
    return recording && paths.recordingFile(recording.sha256)
  }

  const keptRecord = (id: string): KeptRecord => {
    const { text } = find(id)
    const record: SealedRecord = JSON.parse(text)
    return { record, recordText: text, recording: recordingPath(record) }
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
      const sealedAt = now()
      const { record, text } = sealRecord(draft, { recording, photos }, end, key, programVersion, sealedAt)
      const before = last ? (JSON.parse(last.text) as SealedRecord) : null
      const { system } = readSystemFile(draft.systemText, draft.systemName)
      for (const fault of clockFaults(record.sealed_at, draft.result, system, before))
        caution(`${record.id}: ${fault}`)
      const sha256 = sha256Hex(text)
      writeFileDurably(paths.recordFile('', record.id), text)
      writeHead(paths, '', signHead(record.sequence, sha256, sealedAt, key))
      index.put({ chain: '', sequence: record.sequence, id: record.id, sha256, text })
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
    addressOf,
    recordingPath,
    photoPath(sha256) {
      const path = /^[0-9a-f]{64}$/.test(sha256) ? paths.photoFile(sha256) : null
      return path !== null && existsSync(path) ? path : null
    },
    evidence,
    kept: () => evidence().map((record) => keptRecord(addressOf(record))),
    keptRecord,
    publicKey: () => key.public,
    signingKey: () => key,
    backup: (path) => backupArchive(paths, path),
    import(path, progress) {
      mustWrite()
      const report = importArchive(paths, key.public, path, progress)
      reconcile(paths, index, true)
      if (report.chains.some(({ own, added }) => own && added > 0)) {
        const last = index.last('')
        writeHead(paths, '', signHead(last?.sequence ?? 0, last?.sha256 ?? null, now(), key))
      }
      return report
    },
    close() {
      index.close()
      lock?.release()
    },
  }
}

type OwnRecord = IndexedRecord & { readonly record: SealedRecord }

/** A different key in place of the chain's own would permanently break the chain with its next record. */
function refuseForeignKey(paths: ArchiveFolder, own: readonly OwnRecord[], key: SigningKey): void {
  const head = readHead(headText(paths, '') ?? '')
  const ofChain = own.at(-1)?.record.public_key ?? head?.public_key ?? key.public.base64
  if (ofChain === key.public.base64) return
  const { fingerprint } = publicKeyFromBase64(ofChain)
  throw new ArchiveError(
    'key-foreign',
    paths.folder,
    `${signingKeyFile} in ${paths.folder} is not the key of its records: they are signed with ${grouped(fingerprint, 4)}, ` +
      `the file is ${grouped(key.public.fingerprint, 4)}. Put the right key back from a backup, or begin a new chain with ` +
      'stillhold archive key --new',
  )
}

/**
 * Compares its own chain with the signed head, and writes the head when it is missing or behind after a crash.
 *
 * @param writeAt time for a new head; null for reading only
 * @throws ArchiveError `chain-cut` when counted records are missing: sealing more would hide the loss permanently
 */
function checkHead(
  paths: ArchiveFolder,
  own: readonly OwnRecord[],
  key: SigningKey,
  writeAt: Date | null,
): string[] {
  const state = headState(headText(paths, ''), own, key.public.base64)
  if (typeof state === 'object') {
    const message = `${paths.folder}: ${state.broken}; restore the archive from a backup, or begin a new chain with stillhold archive key --new`
    if (writeAt !== null) throw new ArchiveError('chain-cut', paths.folder, message)
    return [message]
  }
  if (state !== 'fits' && writeAt !== null)
    writeHead(paths, '', signHead(own.length, own.at(-1)?.sha256 ?? null, writeAt, key))
  return []
}

/** A hold without its recording cannot be checked: warn at the start, not at the first request. */
function missingRecordings(paths: ArchiveFolder, records: readonly OwnRecord[]): string[] {
  const missing = records.flatMap(({ id, record: { recording } }) =>
    recording && !existsSync(paths.recordingFile(recording.sha256)) ? [id] : [],
  )
  if (missing.length === 0) return []
  const [first, ...others] = missing
  const more = others.length > 0 ? ` (and of ${others.length} more)` : ''
  return [`${first}${more}: its recording is missing from ${paths.recordings}; restore it from a backup`]
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
