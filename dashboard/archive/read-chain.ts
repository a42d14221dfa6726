import { existsSync, readFileSync } from 'node:fs'
import { type ArchiveFolder, readEvidence, sequenceOf } from './archive-folder.ts'
import { broken, type Finding, holds, note } from './finding.ts'
import { grouped } from './page/figure-words.ts'
import { readRecord } from './read-record.ts'
import type { SealedRecord } from './record.ts'
import { recordSignatureHolds } from './seal-record.ts'
import { publicKeyFromBase64 } from './signing-key.ts'
import { sha256Hex } from './write-durably.ts'

/** One record file of a chain. */
export interface ChainLink {
  readonly id: string
  readonly path: string
  readonly record: SealedRecord | null
  readonly text: string
  readonly sha256: string
  /** Faults of its position in the chain, in plain sentences; empty when it is where it was sealed. */
  readonly placeFaults: readonly string[]
  /** Why there is no record, in a plain sentence; null when there is one. */
  readonly error: string | null
}

/** Reads a chain from its record files and checks the position of each record in it. */
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
      error,
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

/** Finds a stored file by its hash; null when it is not available. */
export type FindFile = (kind: 'recording' | 'photo', sha256: string) => Uint8Array | null

/** The files of an archive. */
export function filesOf(paths: ArchiveFolder): FindFile {
  return (kind, sha256) => {
    const path = kind === 'recording' ? paths.recordingFile(sha256) : paths.photoFile(sha256)
    return existsSync(path) ? readEvidence(path) : null
  }
}

/** What a seal covers, as it is now. */
export interface SealCheck {
  readonly findings: readonly Finding[]
  /** The bytes of the recording as sealed; null without them. */
  readonly recording: Uint8Array | null
}

/**
 * Checks the signature of a record and the hashes of its system file, recording and photos.
 *
 * @param isWhole whether every file it names must be present, as in an archive
 */
export function checkSeal(record: SealedRecord, findFile: FindFile, isWhole: boolean): SealCheck {
  const key = fingerprintWords(record.public_key)
  const findings = [
    recordSignatureHolds(record)
      ? holds(`signature of the record, by key ${key}`)
      : broken(`signature of the record does not hold for key ${key}: it was changed after sealing`),
  ]
  if (sha256Hex(record.system.text) !== record.system.sha256)
    findings.push(broken('system file in the record does not match its hash'))
  if (record.kind === 'hold' && record.recording === null)
    findings.push(broken('a hold without a recording proves nothing'))
  const asSealed = (kind: 'recording' | 'photo', file: KeptFile, without: string): Uint8Array | null => {
    const bytes = findFile(kind, file.sha256)
    const name = `${kind} ${file.name}`
    if (bytes === null) findings.push((isWhole ? broken : note)(`${name} ${without}`))
    else if (sha256Hex(bytes) !== file.sha256 || bytes.byteLength !== file.bytes)
      findings.push(broken(`${name} was changed: its bytes are not those that were sealed`))
    else {
      findings.push(holds(kind === 'photo' ? `${name}, as sealed` : `${name}, ${file.bytes} bytes as sealed`))
      return bytes
    }
    return null
  }
  const unchecked = 'is not available: its verdict cannot be checked'
  const recording = record.recording && asSealed('recording', record.recording, unchecked)
  for (const photo of record.photos) asSealed('photo', photo, isWhole ? 'is missing' : 'is not available')
  return { findings, recording }
}

type KeptFile = SealedRecord['photos'][number]

export function fingerprintWords(publicKey: string): string {
  try {
    return grouped(publicKeyFromBase64(publicKey).fingerprint, 4)
  } catch {
    return '(not a key)'
  }
}
