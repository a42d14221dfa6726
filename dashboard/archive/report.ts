import type { ReportInput } from '#dashboard/archive/page/report-parts.ts'
import { ArchiveError } from './archive-error.ts'
import { drawHoldPages } from './page/hold-pages.ts'
import { drawOtherPages } from './page/result-facts.ts'
import { Sheet } from './page/sheet.ts'
import { sealPdf } from './pdf-file.ts'
import { recordSubject } from './record-words.ts'
import type { SigningKey } from './signing-key.ts'
import { sha256Hex } from './write-durably.ts'

/** Maximum total size of recordings in one PDF, [bytes]: viewers cannot open a PDF of gigabytes. */
export const mostRecordingBytes = 200e6

export const recordAttachment = 'record.json'
const recordingAttachment = 'recording.lp'

/**
 * Prints a record as a PDF of one or two pages with its own data: the sealed record and the recording are
 * attached, and the whole file is sealed with the archive's key. The same record gives the same bytes.
 *
 * @throws ArchiveError `too-large` when the recording does not fit into a PDF
 */
export async function renderReport(input: ReportInput, key: SigningKey): Promise<Uint8Array> {
  const { record, recording } = input
  if (recording && recording.byteLength > mostRecordingBytes) {
    const message = `the recording of ${record.id} has ${Math.round(recording.byteLength / 1e6)} MB, and a test report carries ${mostRecordingBytes / 1e6} at most: give the whole archive (stillhold archive backup), which verify checks too`
    throw new ArchiveError('too-large', record.id, message)
  }
  return sealPdf(await renderReportPages(input), key)
}

/** The report before its seal: a verifier without the private key can redraw and compare it. */
export function renderReportPages(input: ReportInput): Promise<Uint8Array> {
  const { record } = input
  const date = new Date(record.sealed_at)
  const sheet = new Sheet({
    title: `Test report ${record.id}`,
    subject: `${recordSubject(record)}, ${record.system.name}`,
    date,
    creator: `stillhold ${record.program.version}`,
    writer: input.writer,
    foot: `${record.id} · record SHA-256 ${sha256Hex(input.recordText).slice(0, 16)}… · check with: stillhold verify`,
  })
  if (record.kind === 'hold' && 'reasons' in record.result && 'stages' in record.result)
    drawHoldPages(sheet, input)
  else drawOtherPages(sheet, input)
  sheet.attach(recordAttachment, 'application/json', 'The sealed record', Buffer.from(input.recordText), date)
  if (input.recording) {
    sheet.attach(
      recordingAttachment,
      'text/plain',
      'Every sample and mark, as recorded',
      input.recording,
      date,
    )
  }
  return sheet.finish()
}
