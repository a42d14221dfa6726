import { existsSync, readdirSync, statSync } from 'node:fs'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { ArchiveError, diskError } from './archive-error.ts'
import { type ArchiveFolder, archiveFolder, isArchiveFolder, makeFolder } from './archive-folder.ts'
import { headState, headText, readHead, signHead, writeHead } from './chain-head.ts'
import { backupArchive, type ImportReport, importArchive } from './copy-archive.ts'
import { grouped } from './page/figure-words.ts'
import { reconcile, removeHalfWritten } from './reconcile.ts'
import type {
  KeptRecord,
  KnownRecord,
  RecordDraft,
  RecordFilter,
  RecordSummary,
  SealedRecord,
} from './record.ts'
import { Gists, type IndexedGist } from './record-gist.ts'
import { clockFaults, matchesText, recordSections, recordVerdict, summarizeRecord } from './record-words.ts'
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
import { openRecordIndex, type RecordIndex, readRecordIndex } from './store/record-index.ts'
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
  /** Path of a record's stored recording, by its id or the record; null for evidence without one. */
  recordingPath(record: string | SealedRecord): string | null
  /** Path of the stored photo with that hash; null when the archive has none. */
  photoPath(sha256: string): string | null
  /** Every record in the order it was sealed, over all chains; within a chain always in chain order. */
  evidence(): SealedRecord[]
  /** The same with the recording of each and its marks. */
  known(): readonly KnownRecord[]
  /** The same with the sealed text of each. */
  kept(): KeptRecord[]
  keptRecord(id: string): KeptRecord
  publicKey(): PublicKeyInfo
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
  const { programVersion, now = () => new Date() } = options
  const paths = archiveFolder(folder)
  if (options.readOnly) {
    if (!isArchiveFolder(folder)) {
      throw new ArchiveError('no-archive', folder, `no archive at ${folder}: choose its folder with --data`)
    }
    const key = openKey(paths, false)
    const gists = new Gists(paths, key, programVersion)
    const onDisk = readRecordIndex(paths.index)
    const known = onDisk && gists.read(onDisk)
    if (known) return assemble({ paths, key, gists, index: onDisk, lock: null }, [], known, options)
    onDisk?.close()
    const index = openRecordIndex(null)
    const notices = reconcile(paths, index, null)
    return assemble({ paths, key, gists, index, lock: null }, notices, gists.ofTexts(index), options)
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
    const gists = new Gists(paths, key, programVersion)
    const index = openIndex(paths)
    const notices = reconcile(paths, index, gists)
    if (index.replaced !== null)
      notices.unshift(`the index was damaged (${index.replaced}); rebuilt from the record files`)
    const known = gists.read(index) ?? gists.ofTexts(index)
    return assemble({ paths, key, gists, index, lock }, notices, known, options)
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

interface Opened {
  readonly paths: ArchiveFolder
  readonly key: SigningKey
  readonly gists: Gists
  readonly index: RecordIndex
  /** Null for reading only. */
  readonly lock: FolderLock | null
}

function assemble(
  { paths, key, gists, index, lock }: Opened,
  notices: string[],
  atFirst: readonly IndexedGist[],
  { programVersion, caution = () => {}, now = () => new Date() }: ArchiveOptions,
): Archive {
  if (keyIsExposed(paths.folder)) {
    notices.push(`${signingKeyFile} can be read by others on this computer; run: chmod 600 on it`)
  }
  let all = inSealedOrder(atFirst)
  notices.push(...missingRecordings(paths, all))
  const own = all.filter(({ chain }) => chain === '')
  refuseForeignKey(paths, own, key)
  notices.push(...checkHead(paths, own, key, lock === null ? null : now()))

  const find = (id: string): IndexedGist => {
    const found = all.find(isNamed(id))
    if (found) return found
    throw new ArchiveError(
      'not-found',
      paths.folder,
      `no record ${id} in ${paths.folder}: see the list of records`,
    )
  }
  const textOf = ({ chain, id, sha256 }: IndexedGist): string => {
    const text = index.get(chain, id)?.text
    if (text !== undefined && sha256Hex(text) === sha256) return text
    const message = `${id}: its text in the index was changed; run stillhold archive rebuild`
    throw new ArchiveError('bad-record', paths.index, message)
  }
  const mustWrite = (): void => {
    if (lock === null) throw new TypeError('the archive was opened for reading only')
  }
  const kept = (known: IndexedGist): KeptRecord => ({ ...known, recordText: textOf(known) })

  return {
    folder: paths.folder,
    notices,
    seal(draft) {
      mustWrite()
      const recording = keepRecording(paths, draft.recordingPath)
      const photos = (draft.photos ?? []).map((photo) => keepPhoto(paths, photo))
      const last = all.findLast(({ chain }) => chain === '')
      const end = { sequence: last?.record.sequence ?? 0, sha256: last?.sha256 ?? null }
      const sealedAt = now()
      const { record, text } = sealRecord(draft, { recording, photos }, end, key, programVersion, sealedAt)
      const { system } = readSystemFile(draft.systemText, draft.systemName)
      for (const fault of clockFaults(record.sealed_at, draft.result, system, last?.record ?? null))
        caution(`${record.id}: ${fault}`)
      const sha256 = sha256Hex(text)
      writeFileDurably(paths.recordFile('', record.id), text)
      writeHead(paths, '', signHead(record.sequence, sha256, sealedAt, key))
      const row = { chain: '', sequence: record.sequence, id: record.id, sha256, text }
      index.transaction(() => {
        index.put(row)
        all = inSealedOrder([...all, gists.put(index, row)])
      })
      return record
    },
    list: (filter = {}) =>
      all
        .filter(({ record }) => matches(record, filter))
        .sort(newestFirst)
        .map(({ record, chain }) =>
          summarizeRecord(record, chain === '' ? record.id : `${record.id}@${chain}`, chain || null),
        ),
    get: (id) => find(id).record,
    getText: (id) => textOf(find(id)),
    recordingPath(record) {
      const { recording } = typeof record === 'string' ? find(record).record : record
      return recording && paths.recordingFile(recording.sha256)
    },
    photoPath(sha256) {
      const path = /^[0-9a-f]{64}$/.test(sha256) ? paths.photoFile(sha256) : null
      return path !== null && existsSync(path) ? path : null
    },
    evidence: () => all.map(({ record }) => record),
    known: () => all,
    kept: () => all.map(kept),
    keptRecord: (id) => kept(find(id)),
    publicKey: () => key.public,
    backup: (path) => backupArchive(paths, path),
    import(path, progress) {
      mustWrite()
      const report = importArchive(paths, key.public, path, progress)
      reconcile(paths, index, gists)
      all = inSealedOrder(gists.read(index) ?? gists.ofTexts(index))
      if (report.chains.some((chain) => chain.own && chain.added > 0)) {
        const last = all.findLast(({ chain }) => chain === '')
        writeHead(paths, '', signHead(last?.record.sequence ?? 0, last?.sha256 ?? null, now(), key))
      }
      return report
    },
    close() {
      index.close()
      lock?.release()
    },
  }
}

function matches(record: SealedRecord, { kind, verdict, section, text }: RecordFilter): boolean {
  if (kind !== undefined && record.kind !== kind) return false
  if (verdict !== undefined && recordVerdict(record) !== verdict) return false
  if (section !== undefined && !recordSections(record).includes(section)) return false
  return text === undefined || matchesText(record, text)
}

function newestFirst(a: IndexedGist, b: IndexedGist): number {
  const place = ({ record, chain }: IndexedGist) => `${record.sealed_at} ${chain}`
  const [of, then] = [place(a), place(b)]
  return of === then ? b.record.sequence - a.record.sequence : of < then ? 1 : -1
}

/**
 * Merges several chains in time order. Within a chain the record numbers set the order, whatever its clock said:
 * the next record always comes from the chain whose next record was sealed earliest.
 */
function inSealedOrder(known: readonly IndexedGist[]): readonly IndexedGist[] {
  // The next record of each chain is its last entry.
  const chains = [...new Set(known.map(({ chain }) => chain))]
    .sort()
    .map((name) =>
      known.filter(({ chain }) => chain === name).sort((a, b) => b.record.sequence - a.record.sequence),
    )
  const sealedAt = (chain: readonly IndexedGist[]) => chain.at(-1)?.record.sealed_at ?? '\uffff'
  return known.flatMap(
    () => chains.reduce((first, each) => (sealedAt(each) < sealedAt(first) ? each : first)).pop() ?? [],
  )
}

/** `0001-left-feed`, `1`, or with the beginning of another chain's fingerprint: `0001-left-feed@9f2c`. */
function isNamed(name: string): (known: IndexedGist) => boolean {
  const at = name.lastIndexOf('@')
  if (at > 0)
    return ({ chain, id }) => chain !== '' && chain.startsWith(name.slice(at + 1)) && id === name.slice(0, at)
  const isNumber = /^\d+$/.test(name)
  return ({ chain, id, record }) =>
    chain === '' && (isNumber ? record.sequence === Number(name) : id === name)
}

/** A different key in place of the chain's own would permanently break the chain with its next record. */
function refuseForeignKey(paths: ArchiveFolder, own: readonly IndexedGist[], key: SigningKey): void {
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
  own: readonly IndexedGist[],
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
function missingRecordings(paths: ArchiveFolder, records: readonly IndexedGist[]): string[] {
  const present = new Set(readdirSync(paths.recordings))
  const missing = records.flatMap(({ id, record: { recording } }) =>
    recording && !present.has(`${recording.sha256}.lp`) ? [id] : [],
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
  photo: NonNullable<RecordDraft['photos']>[number],
): SealedRecord['photos'][number] {
  const sha256 = sha256Hex(photo.bytes)
  writeFileDurably(paths.photoFile(sha256), photo.bytes)
  return { name: photo.name, sha256, bytes: photo.bytes.byteLength }
}
