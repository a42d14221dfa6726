import type { X509Certificate } from 'node:crypto'
import { existsSync, statSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { ArchiveError } from './archive-error.ts'
import { archiveFolder, isArchiveFolder, readEvidence } from './archive-folder.ts'
import { headFinding, headState, headText } from './chain-head.ts'
import { checkLinks, type LinkToCheck } from './check-link.ts'
import { checkPdf } from './check-pdf.ts'
import { checkRecord } from './check-record.ts'
import {
  broken,
  type ChainLinkId,
  type Finding,
  holds,
  note,
  type VerifyReport,
  verifyReport,
} from './finding.ts'
import { mostPdfBytes } from './pdf-file.ts'
import { type ChainLink, type FindFile, fingerprintWords, readChain } from './read-chain.ts'
import { readRecord } from './read-record.ts'
import { takenBackAfter } from './recompute-hold.ts'
import type { SealedRecord } from './record.ts'
import { recordVerdict } from './record-words.ts'
import { indexedRecords } from './store/record-index.ts'
import { timeStampFindings } from './time-stamp.ts'
import { sha256Hex } from './write-durably.ts'

export interface VerifyOptions {
  /** Version of this program, to distinguish newer code from a change. */
  readonly programVersion: string
  /** Fingerprints of the keys that must have signed everything; absent: not compared. */
  readonly expectedKeys?: readonly string[] | null
  /** Certificates of the time-stamp authorities that the user trusts. */
  readonly authorities?: readonly X509Certificate[]
  /** Called with the checked share of an archive's records. */
  readonly progress?: (share: number) => void
}

/**
 * Checks a test report, a record or an archive folder, from the file alone: no private key, no network. Every verdict is
 * recomputed from the recording.
 *
 * @throws ArchiveError when the path cannot be read or is none of these
 */
export async function verify(path: string, options: VerifyOptions): Promise<VerifyReport> {
  if (!existsSync(path)) throw new ArchiveError('not-found', path, `${path} does not exist; check the path`)
  if (statSync(path).isDirectory()) return verifyArchive(path, options)
  const { size } = statSync(path)
  if (size > mostPdfBytes) {
    const message = `${path} is no test report or record: it has ${Math.round(size / 1e6)} MB, and neither has more than ${mostPdfBytes / 1e6}`
    throw new ArchiveError('bad-record', path, message)
  }
  const bytes = readEvidence(path)
  if (bytes.subarray(0, 1024).includes('%PDF-') || /\.pdf$/i.test(path)) {
    const { findings, records, keys, links } = await checkPdf(bytes, options.programVersion)
    const all = [...findings, ...keyFindings(keys, options.expectedKeys ?? null)]
    return verifyReport({ file: path, kind: 'report', findings: all, records, links })
  }
  return verifyRecordFile(path, bytes, options)
}

/**
 * Compares several checked files: finds two different records at one position of a chain, and an archive that lacks
 * a record of another file, as after a replacement by an earlier copy.
 */
export function compareFiles(reports: readonly VerifyReport[]): VerifyReport[] {
  return reports.map((report) => {
    const own = new Map(report.links.map((link) => [`${link.key} ${link.sequence}`, link.sha256]))
    const keys = new Set(report.links.map(({ key }) => key))
    const findings = reports.flatMap((other) =>
      other === report
        ? []
        : other.links.flatMap(({ key, sequence, sha256, id }) => {
            const here = own.get(`${key} ${sequence}`)
            if (here === sha256 || (here === undefined && (report.kind !== 'archive' || !keys.has(key))))
              return []
            const what = here === undefined ? 'is missing here' : 'is another record here'
            return [broken(`${id}, which ${other.file} carries, ${what}: one of the two is not a true copy`)]
          }),
    )
    return findings.length === 0
      ? report
      : verifyReport({ ...report, findings: [...report.findings, ...findings] })
  })
}

function verifyRecordFile(path: string, bytes: Buffer, options: VerifyOptions): VerifyReport {
  const text = bytes.toString('utf8')
  const isText = Buffer.from(text, 'utf8').equals(bytes)
  const { record, error } = isText ? readRecord(text) : { record: null, error: 'not UTF-8 text' }
  if (record === null) {
    if (/\.json$/i.test(path) || bytes.includes('stillhold')) {
      const findings = [broken(`this is not a sealed record, or it was changed: ${error}`)]
      return verifyReport({ file: path, kind: 'record', findings, records: [], links: [] })
    }
    throw new ArchiveError('bad-record', path, `${path} is not a test report, record or archive: ${error}`)
  }
  const checked = checkRecord(record, filesAround(path), options)
  const findings = keyFindings([record.public_key], options.expectedKeys ?? null)
  if (basename(path) !== `${record.id}.json`) findings.push(note(`the record has the id ${record.id}`))
  const links = [linkOf(record.public_key, record, sha256Hex(bytes))]
  return verifyReport({ file: path, kind: 'record', findings, records: [checked], links })
}

async function verifyArchive(folder: string, options: VerifyOptions): Promise<VerifyReport> {
  if (!isArchiveFolder(folder)) {
    throw new ArchiveError('no-archive', folder, `${folder} is not an archive: it has no folder of records`)
  }
  const paths = archiveFolder(folder)
  const findings: Finding[] = []
  const toCheck: LinkToCheck[] = []
  const allLinks: ChainLinkId[] = []
  const keys: string[] = []
  const indexed = indexedRecords(paths.index)
  const read: { chain: string; links: ChainLink[]; head: string | null; key: string | null }[] = []
  const chains = ['', ...paths.foreignChains()]
  for (const chain of chains) {
    // The head first: a record sealed meanwhile then counts as additional, not as missing.
    const head = headText(paths, chain)
    const links = readChain(paths, chain)
    const key = links.find((link) => link.record)?.record?.public_key ?? null
    if (key !== null) keys.push(key)
    read.push({ chain, links, head, key })
    const verdicts = new Map(
      links.flatMap(({ record }) => (record ? [[record.id, recordVerdict(record)] as const] : [])),
    )
    const corrections = links.flatMap(({ record }) => (record?.kind === 'correction' ? [record] : []))
    for (const [at, { text: _, path: _path, ...link }] of links.entries()) {
      const { record } = link
      toCheck.push({
        ...link,
        id: chain === '' ? link.id : `${link.id}@${chain}`,
        folder,
        programVersion: options.programVersion,
        before: links[at - 1]?.record ?? null,
        takenBack: record === null ? new Map() : takenBackAfter(record, corrections),
        // A hold relies on no other record.
        verdicts: record?.kind === 'hold' ? new Map() : verdicts,
      })
      if (record) allLinks.push(linkOf(record.public_key, record, link.sha256))
    }
  }
  const checked = await checkLinks(toCheck, options.progress)
  const records = checked.map(({ record }) => record)
  for (const { chain, links, head, key } of read) {
    const name = `chain of ${links.length} ${links.length === 1 ? 'record' : 'records'}, key ${key === null ? 'unknown' : fingerprintWords(key)}`
    const faulty = checked.splice(0, links.length).filter(({ isAsSealed }) => !isAsSealed).length
    if (links.length > 0)
      findings.push(
        faulty === 0
          ? holds(`${name}: whole, in order, none changed`)
          : broken(`${name}: ${faulty} not as sealed`),
      )
    const state = headState(head, links, key)
    if (links.length > 0 || typeof state === 'object') findings.push(headFinding(name, state, head))
    findings.push(...goneFromIndex(indexed, chain, links))
  }
  const chainLinks = read.map(({ links }) => links)
  findings.push(...timeStampFindings(paths, chainLinks, options.authorities ?? []))
  if (records.length === 0) findings.push(note('the archive has no records: it proves nothing'))
  const all = [...findings, ...keyFindings(keys, options.expectedKeys ?? null)]
  return verifyReport({ file: folder, kind: 'archive', findings: all, records, links: allLinks })
}

/** Records in the index beside the archive that have no file. */
function goneFromIndex(
  indexed: readonly { chain: string; id: string }[],
  chain: string,
  links: readonly ChainLink[],
): Finding[] {
  const ids = new Set(links.map(({ id }) => id))
  const gone = indexed.filter((row) => row.chain === chain && !ids.has(row.id))
  if (gone.length === 0) return []
  const names = gone.map(({ id }) => id).join(', ')
  return [broken(`the index beside the records still has ${names}: the files were removed`)]
}

/** Identifying the signer requires a key known from elsewhere. */
function keyFindings(keys: readonly string[], expected: readonly string[] | null): Finding[] {
  const names = [...new Set(keys.map(fingerprintWords))]
  if (expected === null) {
    return names.map((name) =>
      note(`key ${name}: compare it with the one the workshop printed, or give it with --key`),
    )
  }
  return names.map((name) =>
    expected.includes(name.replaceAll(' ', ''))
      ? holds(`key ${name} is the one expected`)
      : broken(`key ${name} is not the one expected: someone else sealed this`),
  )
}

function linkOf(key: string, { sequence, id }: SealedRecord, sha256: string): ChainLinkId {
  return { key, sequence, sha256, id }
}

/** A record file of an archive has its recording and photos beside it; a separate one may have them near. */
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
    return found === undefined ? null : readEvidence(found)
  }
}
