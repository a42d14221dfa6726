import * as v from 'valibot'
import { headFinding, headState, readHead } from './chain-head.ts'
import { checkRecord } from './check-record.ts'
import { foreignPart, pdfDifference } from './compare-pdf.ts'
import { dossierAttachment, renderDossierPages } from './dossier.ts'
import { broken, type ChainLinkId, type CheckedRecord, type Finding, holds, note } from './finding.ts'
import {
  attachmentsOf,
  checkPdfSeal,
  infoOf,
  type PdfFile,
  readPdf,
  type SealCheck,
  unpacked,
} from './pdf-file.ts'
import { dossierInput, reportInput } from './print.ts'
import { fingerprintWords } from './read-chain.ts'
import { readRecord } from './read-record.ts'
import { type Recomputed, recomputeHold, takenBackAfter } from './recompute-hold.ts'
import type { KeptRecord, SealedRecord } from './record.ts'
import { recordVerdict } from './record-words.ts'
import { mostRecordingBytes, recordAttachment, renderReportPages } from './report.ts'
import { sha256Hex } from './write-durably.ts'

export interface PdfCheck {
  readonly findings: Finding[]
  readonly records: readonly CheckedRecord[]
  /** Every key that signed part of it, base64. */
  readonly keys: readonly string[]
  readonly links: readonly ChainLinkId[]
}

/** Maximum unpacked size of a record, [bytes]: it has a system file and a result. */
const mostRecordBytes = 16e6

/** Maximum compression ratio: recordings are text with a time in each line and never compress below a fortieth. */
const mostPacked = 40

/**
 * Checks a test report or a dossier: its seal, the attached records, the chains they form with their signed counts, and
 * that its pages match those printed from its records. Under a seal by another key nothing counts as valid.
 */
export async function checkPdf(pdf: Uint8Array, programVersion: string): Promise<PdfCheck> {
  const seal = checkPdfSeal(pdf)
  let content: Content
  try {
    content = readContent(seal.unsealed)
  } catch (cause) {
    const unread = broken(`no sealed record can be read from it: ${(cause as Error).message}`)
    return { findings: [...sealFaults(seal, null), unread], records: [], keys: keysOf(seal, []), links: [] }
  }
  const { kept, dossier } = content
  const keys = keysOf(seal, kept)
  const faults = sealFaults(seal, kept)
  if (faults.length > 0) return { findings: faults, records: kept.map(untrusted), keys, links: [] }

  const findings: Finding[] = [
    holds(
      `seal: every byte of the file is as sealed, by the key of its records ${fingerprintWords(keys[0] ?? '')}`,
    ),
  ]
  const shown = shownOf(kept, dossier)
  const byHash = new Map(
    kept.flatMap(({ record, recording }) =>
      record.recording ? [[record.recording.sha256, recording as Uint8Array | null]] : [],
    ),
  )
  const verdicts = new Map(kept.map(({ record }) => [record.id, recordVerdict(record)]))
  const before = (record: SealedRecord) =>
    kept.find(
      (each) => each.record.public_key === record.public_key && each.record.sequence === record.sequence - 1,
    )
  const all = kept.map(({ record }) => record)
  const recompute = onceARecord(!content.isDossier)
  const records = shown.map(({ record }) =>
    checkRecord(record, (_, sha256) => byHash.get(sha256) ?? null, {
      programVersion,
      verdictOf: (id) => verdicts.get(id),
      before: before(record)?.record ?? null,
      takenBack: takenBackAfter(record, all),
      recompute,
    }),
  )
  if (content.isDossier) {
    for (const key of new Set(kept.map(({ record }) => record.public_key)))
      findings.push(
        ...checkChain(
          key,
          kept.filter(({ record }) => record.public_key === key),
          dossier?.heads ?? [],
        ),
      )
    if (shown.length < kept.length)
      findings.push(note(`${kept.length - shown.length} records of other systems are attached and not shown`))
  }
  findings.push(await checkPages(content, seal, programVersion, recompute))
  const links = kept.map(({ record, sha256 }) => ({
    key: record.public_key,
    sequence: record.sequence,
    sha256,
    id: record.id,
  }))
  return { findings, records, keys, links }
}

const ourAttachments =
  /^(?:record\.json|recording\.lp|dossier\.json|\d{4,}-[a-z0-9-]+(?:@[\w+/]{4})?\.json|[0-9a-f]{64}\.lp)$/

interface Content {
  readonly file: PdfFile
  readonly kept: readonly KeptRecord[]
  readonly isDossier: boolean
  /** Source of a dossier; null for a report, and for a dossier of version 0.1. */
  readonly dossier: v.InferOutput<typeof dossierSchema> | null
}

const dossierSchema = v.strictObject({
  stillhold_dossier: v.literal(1),
  system: v.strictObject({ name: v.string(), text: v.string() }),
  heads: v.array(v.string()),
})

/** @throws Error in one plain sentence when the PDF has another structure than this program's or carries no record */
function readContent(unsealed: Uint8Array): Content {
  const file = readPdf(unsealed)
  const attachments = attachmentsOf(file)
  const foreign = attachments.find(({ name }) => !ourAttachments.test(name))
  const files = [...file.objects.values()].filter(({ dictionary }) =>
    /^\/Type \/EmbeddedFile$/m.test(dictionary),
  )
  if (foreign || files.length !== attachments.length)
    throw new Error('it has an attachment that no report has')
  const text = (name: string): string | null => {
    const found = attachments.find((each) => each.name === name)
    return found
      ? new TextDecoder('utf-8', { fatal: true }).decode(unpacked(found.packed, mostRecordBytes))
      : null
  }
  let leftBytes = mostRecordingBytes
  const recordings = new Map<string, Uint8Array>()
  for (const { name, packed } of attachments.filter((each) => each.name.endsWith('.lp'))) {
    const most = Math.max(mostRecordBytes, mostPacked * (packed.packed?.byteLength ?? 0))
    const bytes = unpacked(packed, Math.min(most, leftBytes))
    leftBytes -= bytes.byteLength
    recordings.set(sha256Hex(bytes), bytes)
    if (name !== 'recording.lp' && name !== `${sha256Hex(bytes)}.lp`)
      throw new Error(`${name} does not match the hash in its name`)
  }
  const kept = attachments
    .filter(({ name }) => name.endsWith('.json') && name !== dossierAttachment)
    .map(({ name }): KeptRecord => {
      const recordText = text(name)!
      const { record, error } = readRecord(recordText)
      if (record === null) throw new Error(`${name} is not as sealed: ${error}`)
      const recording = recordings.get(record.recording?.sha256 ?? '') ?? null
      return { record, recordText, sha256: sha256Hex(recordText), recording }
    })
  if (kept.length === 0) throw new Error('it carries none')
  const about = text(dossierAttachment)
  const isDossier = !attachments.some(({ name }) => name === recordAttachment)
  if (!isDossier && kept.length > 1) throw new Error('it carries several, as no test report does')
  return { file, kept, isDossier, dossier: about === null ? null : v.parse(dossierSchema, JSON.parse(about)) }
}

function keysOf(seal: SealCheck, kept: readonly KeptRecord[]): string[] {
  const keys = [seal.publicKey ?? [], ...kept.map(({ record }) => record.public_key)].flat()
  return [...new Set(keys)]
}

/** Fault of the seal; empty when it is valid and made with the records' own key. */
function sealFaults(seal: SealCheck, kept: readonly KeptRecord[] | null): Finding[] {
  if (seal.state === 'none') return [broken('it has no seal: it was changed, or is not a test report')]
  if (seal.state === 'broken') return [broken('seal: the file was changed after it was sealed')]
  if (kept === null || kept.some(({ record }) => record.public_key === seal.publicKey)) return []
  const key = fingerprintWords(seal.publicKey ?? '')
  return [broken(`seal: it is by key ${key}, not by that of its records: nothing in it can be relied on`)]
}

/** A record under an invalid seal: only named. */
function untrusted({ record }: KeptRecord): CheckedRecord {
  const { id, kind } = record
  return { id, kind, sealed: recordVerdict(record), recomputed: null, verdict: 'void', findings: [] }
}

/** The records of one key: complete from the first, in order, and as many as the key counted. */
function checkChain(key: string, chain: readonly KeptRecord[], heads: readonly string[]): Finding[] {
  const links = [...chain].sort((a, b) => a.record.sequence - b.record.sequence)
  let before: string | null = null
  for (const { record, sha256 } of links) {
    if (record.previous_sha256 !== before)
      return [broken(`the chain is broken before ${record.id}: a record is missing or not the one sealed`)]
    before = sha256
  }
  const name = `chain of ${links.length} ${links.length === 1 ? 'record' : 'records'}, key ${fingerprintWords(key)}`
  const head = heads.find((text) => readHead(text)?.public_key === key) ?? null
  return [
    holds(`${name}: whole from the first, in order`),
    headFinding(name, headState(head, links, key), head),
  ]
}

/** Redraws the pages from the attached records and compares everything but the seal. */
async function checkPages(
  content: Content,
  seal: SealCheck,
  programVersion: string,
  recompute: typeof recomputeHold,
): Promise<Finding> {
  const { file, kept, isDossier, dossier } = content
  const [only] = kept
  const writer = (infoOf(file, 'Producer') ?? '').replace(/^stillhold ?/, '')
  // A recording too large to attach cannot be redrawn.
  const isWhole = shownOf(kept, dossier).every(({ record, recording }) => !record.recording || recording)
  try {
    const again = !isWhole
      ? null
      : isDossier
        ? dossier &&
          (await renderDossierPages(dossierInput(kept, dossier, seal.publicKey ?? '', writer, recompute)))
        : only && (await renderReportPages(reportInput(only, writer, recompute)))
    if (again) {
      const difference = Buffer.from(again).equals(seal.unsealed) ? null : pdfDifference(file, readPdf(again))
      if (difference === null) return holds('pages: they match the attached records')
      if (writer === programVersion)
        return broken(
          `pages: printed again from the attached records, ${difference}: they do not show what was sealed`,
        )
    }
    const foreign = await foreignPart(file)
    if (foreign !== null)
      return broken(`pages: they contain ${foreign}, which no version of this program writes`)
  } catch (cause) {
    return broken(`pages: they cannot be checked: ${(cause as Error).message}`)
  }
  if (!isWhole)
    return note('pages: a recording is not attached, so they cannot be compared; rely on what is listed here')
  const by = writer === '' ? 'version 0.1' : `version ${printable(writer)}`
  return note(
    `pages: printed by ${by}, which this version ${programVersion} cannot compare; rely on what is listed here, not on them`,
  )
}

/** Recomputes each record once: its verdict is compared and its pages are drawn from the same analysis of the same bytes. */
function onceARecord(budget: boolean): typeof recomputeHold {
  const done = new Map<SealedRecord, { recording: unknown; found: Recomputed }>()
  return (record, recording, takenBack) => {
    const known = done.get(record)
    if (known?.recording === recording) return known.found
    const found = recomputeHold(record, recording, takenBack, budget)
    done.set(record, { recording, found })
    return found
  }
}

function shownOf(kept: readonly KeptRecord[], dossier: Content['dossier']): readonly KeptRecord[] {
  return dossier === null ? kept : kept.filter(({ record }) => record.system.name === dossier.system.name)
}

const printable = (version: string): string => version.replaceAll(/[^\w.+-]/g, '?').slice(0, 20)
