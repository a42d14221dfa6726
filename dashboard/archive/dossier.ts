import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { Ledger } from '#analysis/model/ledger.ts'
import type { System } from '#analysis/model/system.ts'
import { sealPdf } from './certificate-seal.ts'
import { mostRecordingBytes } from './most-attached.ts'
import { drawChainPage } from './page/chain-page.ts'
import { drawDossierHold, drawDossierOther } from './page/dossier-proof.ts'
import { drawLedgerPages } from './page/ledger-pages.ts'
import { Sheet } from './page/sheet.ts'
import type { SealedRecord } from './record.ts'
import type { PublicKeyInfo, SigningKey } from './signing-key.ts'

export interface DossierProof {
  readonly record: SealedRecord
  readonly recordText: string
  readonly recording: Uint8Array | null
  readonly system: System | null
  readonly analysis: HoldAnalysis | null
}

export interface DossierInput {
  readonly ledger: Ledger
  /** In the order they were sealed. */
  readonly proofs: readonly DossierProof[]
  readonly programVersion: string
  readonly key: PublicKeyInfo
}

/**
 * Prints the whole system for the builder's log: what is proven and what is open, every piece of evidence in its order,
 * and the chain that ties it together; sealed like a certificate, with the records and their recordings attached. Dated
 * by its last record, so that the same evidence gives the same bytes.
 */
export async function renderDossier(input: DossierInput, key: SigningKey): Promise<Uint8Array> {
  const { ledger, proofs, programVersion } = input
  const last = proofs.at(-1)?.record ?? null
  const date = new Date(last?.sealed_at ?? 0)
  const sheet = new Sheet({
    title: `Dossier of ${ledger.system}`,
    subject: 'Proof of the fuel system',
    date,
    creator: `stillhold ${programVersion}`,
    foot: `${ledger.system} · dossier up to ${last?.id ?? 'no record'} · check with: stillhold verify`,
  })
  drawLedgerPages(
    sheet,
    ledger,
    proofs.map((proof) => proof.record),
  )
  for (const proof of proofs) {
    if (proof.record.kind === 'hold' && 'stages' in proof.record.result) drawDossierHold(sheet, proof)
    else drawDossierOther(sheet, proof)
  }
  const kept = attach(sheet, proofs, date)
  drawChainPage(sheet, proofs, input.key, kept.left)
  return sealPdf(await sheet.finish(), key)
}

function attach(sheet: Sheet, proofs: readonly DossierProof[], date: Date): { left: number } {
  let total = 0
  let left = 0
  const names = new Set<string>()
  const once = (name: string, type: string, description: string, bytes: Uint8Array): void => {
    if (names.has(name)) return
    names.add(name)
    sheet.attach(name, type, description, bytes, date)
  }
  for (const { record, recordText, recording } of proofs) {
    const chain = record.public_key === proofs[0].record.public_key ? '' : `@${record.signature.slice(0, 4)}`
    once(`${record.id}${chain}.json`, 'application/json', 'A sealed record', Buffer.from(recordText))
    if (!recording || !record.recording) continue
    total += recording.byteLength
    if (total > mostRecordingBytes) left++
    else once(`${record.recording.sha256}.lp`, 'text/plain', `Recording of ${record.id}`, recording)
  }
  return { left }
}
