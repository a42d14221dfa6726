import { recordAttachment, renderCertificatePages } from './certificate.ts'
import { checkPdfSeal } from './certificate-seal.ts'
import { checkRecord, fingerprintWords } from './check-record.ts'
import { broken, type CheckedRecord, type Finding, holds, note } from './finding.ts'
import { type Attachment, readAttachments, readPageContents } from './read-certificate.ts'
import { readRecord } from './read-record.ts'
import { recomputeHold } from './recompute-hold.ts'
import type { SealedRecord } from './record.ts'
import { sha256Hex } from './write-durably.ts'

export interface CertificateCheck {
  readonly findings: Finding[]
  readonly records: readonly { readonly checked: CheckedRecord; readonly publicKey: string }[]
}

interface Attached {
  readonly record: SealedRecord
  readonly text: string
}

/**
 * Checks a certificate or a dossier: its seal, the records attached, the chain they form, and for a certificate that
 * its pages are those its record is printed as.
 */
export async function checkCertificate(pdf: Uint8Array, programVersion: string): Promise<CertificateCheck> {
  const findings: Finding[] = []
  const seal = checkPdfSeal(pdf)
  if (seal.state === 'none') findings.push(broken('it carries no seal: it was changed or is no certificate'))
  if (seal.state === 'broken') findings.push(broken('seal: the file was changed after it was certified'))
  let attachments: Attachment[]
  let attached: Attached[]
  try {
    attachments = await readAttachments(pdf)
    attached = attachments.filter((each) => each.name.endsWith('.json')).map(attachedRecord)
    if (attached.length === 0) throw new Error('it carries none')
  } catch (cause) {
    findings.push(broken(`no sealed record can be taken from it: ${(cause as Error).message}`))
    return { findings, records: [] }
  }
  const keys = new Set(attached.map(({ record }) => record.public_key))
  if (seal.state === 'holds') {
    findings.push(
      keys.has(seal.publicKey ?? '')
        ? holds('seal: every byte of the file is as certified, by the key of its records')
        : note(
            `seal: every byte is as certified, but by key ${fingerprintWords(seal.publicKey ?? '')}, not its records'`,
          ),
    )
  }
  const byHash = new Map(attachments.map(({ bytes }) => [sha256Hex(bytes), bytes]))
  const records = attached.map(({ record }) => ({
    checked: checkRecord(record, (_, sha256) => byHash.get(sha256) ?? null, programVersion),
    publicKey: record.public_key,
  }))
  const alone = attachments.some((each) => each.name === recordAttachment) ? attached[0] : null
  if (alone !== null && attached.length === 1) {
    const recording = byHash.get(alone.record.recording?.sha256 ?? '') ?? null
    findings.push(await checkPages(pdf, alone, recording, programVersion))
  } else {
    for (const key of keys)
      findings.push(checkOrder(attached.filter(({ record }) => record.public_key === key)))
  }
  return { findings, records }
}

function attachedRecord({ name, bytes }: Attachment): Attached {
  const text = new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  const { record, error } = readRecord(text)
  if (record === null) throw new Error(`${name} is not as sealed: ${error}`)
  return { record, text }
}

function checkOrder(records: readonly Attached[]): Finding {
  const sorted = [...records].sort((a, b) => a.record.sequence - b.record.sequence)
  for (let i = 0; i < sorted.length; i++) {
    const expected = i === 0 ? null : sha256Hex(sorted[i - 1].text)
    if (sorted[i].record.previous_sha256 !== expected) {
      return broken(
        `the chain is broken before ${sorted[i].record.id}: a record is missing or not the one sealed`,
      )
    }
  }
  return holds(`chain of ${sorted.length} records: whole from the first, in order`)
}

/** Draws the pages again from the attached record and compares what is seen. */
async function checkPages(
  pdf: Uint8Array,
  { record, text }: Attached,
  recording: Uint8Array | null,
  programVersion: string,
): Promise<Finding> {
  try {
    const { system, analysis } = recomputeHold(record, recording)
    const again = await renderCertificatePages({ record, recordText: text, recording, system, analysis })
    const [there, here] = [await readPageContents(pdf), await readPageContents(again)]
    if (there.length === here.length && there.every((page, i) => samePage(page, here[i]))) {
      return holds('pages: they show what the attached record says')
    }
    const other =
      record.program.version === programVersion ? '' : `; it was sealed by ${record.program.version}`
    return note(
      `pages: version ${programVersion} would print this record differently${other}; trust the attached data`,
    )
  } catch (cause) {
    return note(`pages: they could not be drawn again (${(cause as Error).message}); trust the attached data`)
  }
}

/** Numbers may differ by what different processors round; every word and instruction must be the same. */
function samePage(there: string, here: string): boolean {
  if (there === here) return true
  const [a, b] = [there.split(/\s+/), here.split(/\s+/)]
  if (a.length !== b.length) return false
  return a.every((token, i) => token === b[i] || Math.abs(Number(token) - Number(b[i])) < 0.05)
}
