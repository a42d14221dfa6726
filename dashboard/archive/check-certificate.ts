import { recordAttachment, recordingAttachment, renderCertificatePages } from './certificate.ts'
import { checkPdfSeal } from './certificate-seal.ts'
import { checkRecord, fingerprintWords } from './check-record.ts'
import { broken, type CheckedRecord, type Finding, holds, note } from './finding.ts'
import { readAttachments, readPageContents } from './read-certificate.ts'
import { readRecord } from './read-record.ts'
import { recomputeHold } from './recompute-hold.ts'
import type { SealedRecord } from './record.ts'

export interface CertificateCheck {
  readonly findings: Finding[]
  readonly record: { readonly checked: CheckedRecord; readonly publicKey: string } | null
}

/** Checks a certificate: its seal, what is attached, and that its pages are those its record is printed as. */
export async function checkCertificate(pdf: Uint8Array, programVersion: string): Promise<CertificateCheck> {
  const findings: Finding[] = []
  const seal = checkPdfSeal(pdf)
  if (seal.state === 'none')
    findings.push(broken('the certificate carries no seal: it was changed or is not one'))
  if (seal.state === 'broken') findings.push(broken('seal: the file was changed after it was certified'))
  let record: SealedRecord
  let recordText: string
  let recording: Uint8Array | null
  try {
    const attachments = await readAttachments(pdf)
    const only = (name: string): Uint8Array | null => {
      const found = attachments.filter((each) => each.name === name)
      if (found.length > 1) throw new Error(`it carries ${name} more than once`)
      return found[0]?.bytes ?? null
    }
    const recordBytes = only(recordAttachment)
    if (recordBytes === null) throw new Error(`it carries no ${recordAttachment}`)
    recording = only(recordingAttachment)
    recordText = new TextDecoder('utf-8', { fatal: true }).decode(recordBytes)
    const read = readRecord(recordText)
    if (read.record === null) throw new Error(`its record is not as sealed: ${read.error}`)
    record = read.record
  } catch (cause) {
    findings.push(broken(`no record can be taken from the certificate: ${(cause as Error).message}`))
    return { findings, record: null }
  }
  if (seal.state === 'holds') {
    const key = fingerprintWords(seal.publicKey ?? '')
    findings.push(
      seal.publicKey === record.public_key
        ? holds('seal: every byte of the file is as certified, by the key of the record')
        : note(`seal: every byte is as certified, but by key ${key}, not the key of the record: check both`),
    )
  }
  const checked = checkRecord(record, (kind) => (kind === 'recording' ? recording : null), programVersion)
  findings.push(await checkPages(pdf, record, recordText, recording, programVersion))
  return { findings, record: { checked, publicKey: record.public_key } }
}

/** Draws the pages again from the attached record and compares what is seen. */
async function checkPages(
  pdf: Uint8Array,
  record: SealedRecord,
  recordText: string,
  recording: Uint8Array | null,
  programVersion: string,
): Promise<Finding> {
  try {
    const { system, analysis } = recomputeHold(record, recording)
    const again = await renderCertificatePages({ record, recordText, recording, system, analysis })
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
