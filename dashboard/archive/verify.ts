import { existsSync, readFileSync, statSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { ArchiveError, diskError } from './archive-error.ts'
import { type ArchiveFolder, archiveFolder, isArchiveFolder } from './archive-folder.ts'
import { checkCertificate } from './check-certificate.ts'
import { checkRecord, type FindFile, fingerprintWords } from './check-record.ts'
import {
  broken,
  type CheckedRecord,
  type Finding,
  holds,
  note,
  type VerifyReport,
  verifyReport,
  worstVerdict,
} from './finding.ts'
import { mostPdfBytes } from './most-attached.ts'
import { type ChainLink, readChain } from './read-chain.ts'
import { readRecord } from './read-record.ts'
import type { FindVerdict } from './recompute-work.ts'
import { recordVerdict } from './record-summary.ts'

export interface VerifyOptions {
  /** Version of this program, to tell newer code from a change. */
  readonly programVersion: string
  /** Fingerprint of the key that everything should be signed with; null to compare with none. */
  readonly expectedKey: string | null
  /** Told the share of an archive's records that are checked. */
  readonly progress?: (share: number) => void
}

/**
 * Checks a certificate, a record or an archive folder, from the file alone: no private key, no network. Every verdict is
 * computed again from the recording.
 *
 * @throws ArchiveError when the path cannot be read or is none of the three
 */
export async function verify(path: string, options: VerifyOptions): Promise<VerifyReport> {
  if (!existsSync(path)) throw new ArchiveError('not-found', path, `${path} does not exist; check the path`)
  if (statSync(path).isDirectory()) return verifyArchive(path, options)
  const { size } = statSync(path)
  if (size > mostPdfBytes) {
    const message = `${path} is no certificate or record: it has ${Math.round(size / 1e6)} MB, and neither has more than ${mostPdfBytes / 1e6}`
    throw new ArchiveError('bad-record', path, message)
  }
  const bytes = read(path)
  if (bytes.subarray(0, 1024).includes('%PDF-') || /\.pdf$/i.test(path)) {
    const { findings, records } = await checkCertificate(bytes, options.programVersion)
    const keys = keyFindings(
      records.map(({ publicKey }) => publicKey),
      options.expectedKey,
    )
    const checked = records.map((record) => record.checked)
    return verifyReport(path, 'certificate', [...findings, ...keys], checked)
  }
  return verifyRecordFile(path, bytes, options)
}

function verifyRecordFile(path: string, bytes: Buffer, options: VerifyOptions): VerifyReport {
  const text = bytes.toString('utf8')
  const isText = Buffer.from(text, 'utf8').equals(bytes)
  const { record, error } = isText ? readRecord(text) : { record: null, error: 'not UTF-8 text' }
  if (record === null) {
    if (/\.json$/i.test(path) || bytes.includes('stillhold')) {
      return verifyReport(path, 'record', [broken(`this is not a sealed record, or no longer: ${error}`)], [])
    }
    throw new ArchiveError('bad-record', path, `${path} is no certificate, record or archive: ${error}`)
  }
  const checked = checkRecord(record, filesAround(path), options.programVersion)
  const findings = keyFindings([record.public_key], options.expectedKey)
  if (basename(path) !== `${record.id}.json`) findings.push(note(`the record names itself ${record.id}`))
  return verifyReport(path, 'record', findings, [checked])
}

function verifyArchive(folder: string, options: VerifyOptions): VerifyReport {
  if (!isArchiveFolder(folder)) {
    throw new ArchiveError('no-archive', folder, `${folder} is no archive: it has no folder of records`)
  }
  const paths = archiveFolder(folder)
  const findings: Finding[] = []
  const records: CheckedRecord[] = []
  const keys: string[] = []
  const chains = ['', ...paths.foreignChains()]
  const total = chains.reduce((sum, chain) => sum + paths.recordIds(chain).length, 0)
  for (const chain of chains) {
    const links = readChain(paths, chain)
    if (links.length === 0) continue
    const key = links.find((link) => link.record)?.record?.public_key ?? null
    if (key !== null) keys.push(key)
    const name = `chain of ${links.length} ${links.length === 1 ? 'record' : 'records'}, key ${key === null ? 'unknown' : fingerprintWords(key)}`
    const faulty = links.filter((link) => link.placeFaults.length + link.contentFaults.length > 0).length
    findings.push(
      faulty === 0
        ? holds(`${name}: whole, in order, none changed`)
        : broken(`${name}: ${faulty} not as sealed`),
    )
    const verdicts = new Map(
      links.flatMap(({ record }) => (record ? [[record.id, recordVerdict(record)] as const] : [])),
    )
    for (const link of links) {
      const id = chain === '' ? link.id : `${link.id}@${chain}`
      records.push(checkLink(link, id, paths, options, (other) => verdicts.get(other)))
      options.progress?.(records.length / total)
    }
  }
  if (records.length === 0) findings.push(note('the archive holds no records yet'))
  return verifyReport(folder, 'archive', [...findings, ...keyFindings(keys, options.expectedKey)], records)
}

function checkLink(
  link: ChainLink,
  id: string,
  paths: ArchiveFolder,
  options: VerifyOptions,
  verdictOf: FindVerdict,
): CheckedRecord {
  const place = link.placeFaults.map(broken)
  if (link.record === null) {
    const findings = [...place, ...link.contentFaults.map(broken)]
    return { id, kind: 'unknown', sealed: null, recomputed: null, verdict: 'void', findings }
  }
  const checked = checkRecord(link.record, filesOf(paths), options.programVersion, true, verdictOf)
  const verdict = worstVerdict([checked.verdict, place.length > 0 ? 'void' : null])
  return { ...checked, id, verdict, findings: [...place, ...checked.findings] }
}

/** Whose signature it is can only be told against a key known from elsewhere. */
function keyFindings(keys: readonly string[], expected: string | null): Finding[] {
  const names = [...new Set(keys.map(fingerprintWords))]
  if (expected === null) {
    return names.map((name) =>
      note(`key ${name}: compare it with the one the workshop printed, or give it with --key`),
    )
  }
  return names.map((name) =>
    name.replaceAll(' ', '') === expected
      ? holds(`key ${name} is the one expected`)
      : broken(`key ${name} is not the one expected: someone else sealed this`),
  )
}

/** A record file of an archive has its recording and photos beside it; one that stands alone may have them near. */
function filesAround(path: string): FindFile {
  const folder = dirname(resolve(path))
  const roots = [join(folder, '..'), join(folder, '..', '..', '..'), folder].map(archiveFolder)
  return (kind, sha256) => {
    const candidates = roots.flatMap((root) =>
      kind === 'recording'
        ? [root.recordingFile(sha256), join(root.folder, `${sha256}.lp`)]
        : [root.photoFile(sha256), join(root.folder, sha256)],
    )
    const found = candidates.find((each) => existsSync(each))
    return found === undefined ? null : read(found)
  }
}

function filesOf(paths: ArchiveFolder): FindFile {
  return (kind, sha256) => {
    const path = kind === 'recording' ? paths.recordingFile(sha256) : paths.photoFile(sha256)
    return existsSync(path) ? read(path) : null
  }
}

function read(path: string): Buffer {
  try {
    return readFileSync(path)
  } catch (cause) {
    throw diskError('read', path, cause)
  }
}
