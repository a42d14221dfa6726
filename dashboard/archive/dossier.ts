import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import type { System } from '#analysis/model/system.ts'
import { canonicalText } from './canonical-text.ts'
import { type DossierProof, drawChainPage, drawDossierHold, drawDossierOther } from './page/dossier-proof.ts'
import { drawLedgerPages } from './page/ledger-pages.ts'
import { Sheet } from './page/sheet.ts'
import type { KeptRecord } from './record.ts'
import { mostRecordingBytes } from './report.ts'
import type { PublicKeyInfo } from './signing-key.ts'

/** Attachment of a dossier that states its source. */
export const dossierAttachment = 'dossier.json'

export interface DossierInput {
  readonly ledger: Ledger
  readonly hunt: HuntResult
  /** The system of the ledger. */
  readonly described: System
  /** In the order they were sealed. */
  readonly proofs: readonly DossierProof[]
  /** Records of other systems in the same chains: attached, so that the chains are complete, but not shown. */
  readonly others: readonly KeptRecord[]
  /** The system file of the ledger. */
  readonly system: { readonly name: string; readonly text: string }
  /** Texts of the signed counts of the chains. */
  readonly heads: readonly string[]
  readonly key: PublicKeyInfo
  /** Version of the program that prints. */
  readonly writer: string
}

/**
 * Draws the whole system for the builder's log: proven and open items, every piece of evidence in order,
 * and the chain that links it; the records and their recordings are attached. Dated by its last record, so that
 * the same evidence gives the same bytes. Not sealed yet.
 */
export async function renderDossierPages(input: DossierInput): Promise<Uint8Array> {
  const { ledger, proofs, writer } = input
  const last = proofs.at(-1)?.record ?? null
  const date = new Date(last?.sealed_at ?? 0)
  const sheet = new Sheet({
    title: `Dossier of ${ledger.system}`,
    subject: 'Proof of the fuel system',
    date,
    creator: `stillhold ${writer}`,
    writer,
    foot: `${ledger.system} · dossier up to ${last?.id ?? 'no record'} · check with: stillhold verify`,
  })
  drawLedgerPages(sheet, input)
  const printed = new Map<string, string>()
  for (const proof of proofs) {
    // Accepted evidence is listed on the first page.
    if (proof.record.kind === 'acceptance') continue
    if (proof.record.kind === 'hold' && 'stages' in proof.record.result)
      drawDossierHold(sheet, proof, printed)
    else drawDossierOther(sheet, proof, printed)
  }
  const left = attach(sheet, input, date)
  drawChainPage(sheet, proofs, input.key, left)
  return sheet.finish()
}

/** Returns the number of omitted recordings. */
function attach(sheet: Sheet, { proofs, others, system, heads }: DossierInput, date: Date): number {
  let total = 0
  let left = 0
  const names = new Set<string>()
  const once = (name: string, type: string, description: string, bytes: Uint8Array): void => {
    if (names.has(name)) return
    names.add(name)
    sheet.attach(name, type, description, bytes, date)
  }
  const about = Buffer.from(canonicalText({ stillhold_dossier: 1, system, heads }))
  once(dossierAttachment, 'application/json', 'What the dossier was made from', about)
  for (const { record, recordText, recording } of [...proofs, ...others]) {
    const chain = record.public_key === proofs[0]?.record.public_key ? '' : `@${record.signature.slice(0, 4)}`
    once(`${record.id}${chain}.json`, 'application/json', 'A sealed record', Buffer.from(recordText))
    if (!(recording instanceof Uint8Array) || !record.recording || record.system.name !== system.name)
      continue
    total += recording.byteLength
    if (total > mostRecordingBytes) left++
    else once(`${record.recording.sha256}.lp`, 'text/plain', `Recording of ${record.id}`, recording)
  }
  return left
}
