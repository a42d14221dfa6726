import { existsSync, readFileSync } from 'node:fs'
import { type ArchiveFolder, sequenceOf } from './archive-folder.ts'
import { readRecord } from './read-record.ts'
import type { SealedRecord } from './record.ts'
import { recordSignatureHolds } from './seal-record.ts'
import { hashFile, sha256Hex } from './write-durably.ts'

/** One record file of a chain, with all its faults. */
export interface ChainLink {
  readonly id: string
  readonly path: string
  readonly record: SealedRecord | null
  readonly text: string
  readonly sha256: string
  /** Faults of its position in the chain, in plain sentences; empty when it is where it was sealed. */
  readonly placeFaults: readonly string[]
  /** Faults of the record and the files it names. */
  readonly contentFaults: readonly string[]
}

/** Reads a chain from its record files and checks each record, its position in the chain and the files it names. */
export function readChain(paths: ArchiveFolder, chain: string): ChainLink[] {
  const links: ChainLink[] = []
  for (const id of paths.recordIds(chain)) {
    const path = paths.recordFile(chain, id)
    const bytes = readFileSync(path)
    const text = bytes.toString('utf8')
    const { record, error } = Buffer.from(text, 'utf8').equals(bytes)
      ? readRecord(text)
      : { record: null, error: 'not UTF-8 text' }
    const before = links.at(-1) ?? null
    links.push({
      id,
      path,
      record,
      text,
      sha256: sha256Hex(bytes),
      placeFaults: record === null ? [] : placeFaults(record, id, before),
      contentFaults: record === null ? [error] : contentFaults(record, paths),
    })
  }
  return links
}

function placeFaults(record: SealedRecord, id: string, before: ChainLink | null): string[] {
  const faults: string[] = []
  if (record.id !== id) faults.push(`the file is named ${id} but the record has the id ${record.id}`)
  if (before === null) {
    if (record.previous_sha256 !== null) faults.push('the records before it are missing')
    return faults
  }
  const expected = (before.record?.sequence ?? sequenceOf(before.id)) + 1
  if (record.sequence > expected) faults.push(`record ${expected} is missing before it`)
  else if (record.sequence < expected) faults.push(`there are two records ${record.sequence}`)
  else if (record.previous_sha256 !== before.sha256) {
    faults.push(`the chain is broken: ${before.id} was not the previous record when it was sealed`)
  }
  if (before.record && before.record.public_key !== record.public_key) {
    faults.push('it is signed with another key than the previous record')
  }
  return faults
}

/** Faults of the signature, the system file and the files a record names. */
function contentFaults(record: SealedRecord, paths: ArchiveFolder): string[] {
  const faults: string[] = []
  if (!recordSignatureHolds(record)) faults.push('the signature does not hold')
  if (sha256Hex(record.system.text) !== record.system.sha256) {
    faults.push('the system file does not match its hash')
  }
  const files = record.photos.map((photo) => ({
    ...photo,
    name: `photo ${photo.name}`,
    path: paths.photoFile(photo.sha256),
  }))
  if (record.recording) {
    files.unshift({
      ...record.recording,
      name: `recording ${record.recording.name}`,
      path: paths.recordingFile(record.recording.sha256),
    })
  }
  for (const file of files) faults.push(...fileFaults(file))
  return faults
}

function fileFaults(file: { name: string; path: string; sha256: string; bytes: number }): string[] {
  if (!existsSync(file.path)) return [`${file.name} is missing`]
  const found = hashFile(file.path)
  if (found.sha256 === file.sha256 && found.bytes === file.bytes) return []
  return [`${file.name} was changed: its bytes are not those that were sealed`]
}
