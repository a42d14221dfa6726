import { recordSubject, recordVerdict } from '../record-summary.ts'
import type { PublicKeyInfo } from '../signing-key.ts'
import { sha256Hex } from '../write-durably.ts'
import type { DossierProof } from './dossier-proof.ts'
import { drawTable } from './fact-table.ts'
import { grouped, utcMinute } from './figure-words.ts'
import { ink, type Sheet } from './sheet.ts'
import { verdictTitles } from './verdict-words.ts'

/** Last page of a dossier: every record with its hash, so that paper alone reveals an added or lost record. */
export function drawChainPage(
  sheet: Sheet,
  proofs: readonly DossierProof[],
  key: PublicKeyInfo,
  recordingsLeftOut: number,
): void {
  sheet.heading('Chain of records', 120)
  const left =
    recordingsLeftOut === 0
      ? 'The records and their recordings are attached to this PDF.'
      : `The records are attached to this PDF; ${recordingsLeftOut} recordings are too large for it and stay in the archive.`
  const about = `${left} Each record names the hash of the one before it and is signed. This dossier is sealed with the key ${grouped(key.fingerprint, 4)}. Check it on any computer with “stillhold verify” and this file.`
  sheet.paragraph(about, { size: 8, color: ink.soft }, 8)
  drawTable(
    sheet,
    { record: 2.1, sealed: 1.7, subject: 1.5, verdict: 0.8, 'SHA-256, first half': 2.9 },
    proofs.map(({ record, recordText }) => {
      const verdict = recordVerdict(record)
      return [
        record.id,
        utcMinute(record.sealed_at),
        recordSubject(record),
        verdict === null ? '–' : { text: verdictTitles[verdict].toLowerCase(), color: ink[verdict] },
        grouped(sha256Hex(recordText).slice(0, 32)),
      ]
    }),
  )
}
