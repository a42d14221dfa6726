import { existsSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { type ArchiveFolder, makeFolder } from './archive-folder.ts'
import { readRecord } from './read-record.ts'
import type { Gists } from './record-gist.ts'
import { recordSignatureHolds } from './seal-record.ts'
import { type IndexedRecord, indexedRecords, type RecordIndex } from './store/record-index.ts'
import { renamePatiently, sha256Hex, writeFileDurably } from './write-durably.ts'

/**
 * Reconciles the index with the record files, and returns the repairs, one line each. The files are
 * the source of truth. A file is restored from the index only when it is missing or has an invalid signature, while
 * the index has its sealed text with a valid signature; the replaced file is kept beside it in `damaged`.
 *
 * @param gists updated for every sound record; null for reading only: `index` is then empty and in memory, and a file
 * that equals the text in the index on disk was checked when it was indexed and is not checked again
 */
export function reconcile(paths: ArchiveFolder, index: RecordIndex, gists: Gists | null): string[] {
  const mayWrite = gists !== null
  const notices: string[] = []
  const indexed = mayWrite ? [] : indexedRecords(paths.index)
  const checked = new Map(indexed.map((row) => [`${row.chain} ${row.id}`, row]))

  const reconcileFile = (chain: string, id: string, known: IndexedRecord | undefined): void => {
    const bytes = readFileSync(paths.recordFile(chain, id))
    if (known && sha256Hex(bytes) === known.sha256) return
    const before = checked.get(`${chain} ${id}`)
    if (before && bytes.equals(Buffer.from(before.text)) && sha256Hex(bytes) === before.sha256) {
      index.put(before)
      return
    }
    const fromFile = indexRecord(chain, id, bytes)
    if (fromFile.row && fromFile.sound) {
      if (known) notices.push(`${id}: the index differed from the record file; updated from the file`)
      index.put(fromFile.row)
    } else if (known && isSound(known)) {
      if (mayWrite) putBack(paths, known)
      notices.push(
        `${id}: the record file was changed (${fromFile.why}); restored from the index, see damaged/`,
      )
    } else {
      if (fromFile.row) index.put(fromFile.row)
      notices.push(
        `${id}: ${fromFile.why}; run stillhold verify on the archive, and restore the file from a backup`,
      )
    }
  }
  const restoreMissing = (row: IndexedRecord): void => {
    if (isSound(row)) {
      if (mayWrite) putBack(paths, row)
      notices.push(`${row.id}: the record file was missing; restored from the index`)
    } else {
      index.remove(row.chain, row.id)
      notices.push(`${row.id}: no record file, and its copy in the index is damaged; removed from the index`)
    }
  }

  index.transaction(() => {
    for (const chain of new Set(['', ...paths.foreignChains(), ...index.chains()])) {
      if (mayWrite) removeHalfWritten(paths.records(chain))
      const missing = new Map(index.chain(chain).map((row) => [row.id, row]))
      for (const id of paths.recordIds(chain)) {
        reconcileFile(chain, id, missing.get(id))
        missing.delete(id)
      }
      for (const row of missing.values()) restoreMissing(row)
    }
    if (gists) updateGists(index, gists)
  })
  return notices
}

function updateGists(index: RecordIndex, gists: Gists): void {
  const fitting = new Set(gists.fitting(index).map(({ chain, id, sha256 }) => `${chain} ${id} ${sha256}`))
  for (const row of index.chains().flatMap((chain) => index.chain(chain)))
    if (!fitting.has(`${row.chain} ${row.id} ${row.sha256}`) && isSound(row)) gists.put(index, row)
}

function indexRecord(
  chain: string,
  id: string,
  bytes: Uint8Array,
): { row: IndexedRecord | null; sound: boolean; why: string } {
  let text: string
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    return { row: null, sound: false, why: 'not UTF-8 text' }
  }
  const { record, error } = readRecord(text)
  if (record === null) return { row: null, sound: false, why: error }
  const row = { chain, sequence: record.sequence, id, sha256: sha256Hex(bytes), text }
  if (record.id !== id) return { row, sound: false, why: `its id is ${record.id}` }
  if (!recordSignatureHolds(record)) return { row, sound: false, why: 'its signature does not hold' }
  return { row, sound: true, why: '' }
}

function isSound(row: IndexedRecord): boolean {
  if (sha256Hex(row.text) !== row.sha256) return false
  const { record } = readRecord(row.text)
  return record !== null && record.id === row.id && recordSignatureHolds(record)
}

function putBack(paths: ArchiveFolder, row: IndexedRecord): void {
  const path = paths.recordFile(row.chain, row.id)
  if (existsSync(path)) {
    const folder = join(paths.folder, 'damaged')
    makeFolder(folder)
    renamePatiently(path, join(folder, `${row.chain ? `${row.chain}-` : ''}${row.id}.json`))
  }
  makeFolder(paths.records(row.chain))
  writeFileDurably(path, row.text)
}

/** A crash can leave a temporary file that was never renamed; it was never sealed. */
export function removeHalfWritten(folder: string): void {
  if (!existsSync(folder)) return
  for (const name of readdirSync(folder))
    if (name.endsWith('.tmp')) rmSync(join(folder, name), { force: true })
}
