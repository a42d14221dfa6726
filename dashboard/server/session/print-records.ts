import { readFileSync } from 'node:fs'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { System } from '#analysis/model/system.ts'
import type { ArchiveEvidence, KeptRecord } from '#dashboard/archive/archive-evidence.ts'
import { renderCertificate } from '#dashboard/archive/certificate.ts'
import { type DossierProof, renderDossier } from '#dashboard/archive/dossier.ts'
import { recomputeHold } from '#dashboard/archive/recompute-hold.ts'
import { readSigningKey, type SigningKey } from '#dashboard/archive/signing-key.ts'

/** Prints one record as its sealed certificate. */
export function printCertificate(folder: string, kept: KeptRecord): Promise<Uint8Array> {
  return renderCertificate(proofOf(kept), keyOf(folder))
}

/** Prints everything that is sealed, with the ledger of the system as it is now. */
export function printDossier(
  folder: string,
  kept: readonly KeptRecord[],
  system: System,
  programVersion: string,
  evidence: ArchiveEvidence,
): Promise<Uint8Array> {
  const key = keyOf(folder)
  const input = {
    ledger: ledger(system, evidence.of(kept)),
    proofs: kept.map(proofOf),
    programVersion,
    key: key.public,
  }
  return renderDossier(input, key)
}

function proofOf({ record, recordText, recordingPath }: KeptRecord): DossierProof {
  const recording = recordingPath === null ? null : readFileSync(recordingPath)
  const { system, analysis } = recomputeHold(record, recording)
  return { record, recordText, recording, system, analysis }
}

function keyOf(folder: string): SigningKey {
  const key = readSigningKey(folder)
  if (!key) throw new Error(`the signing key in ${folder} is gone: put it back from a backup`)
  return key
}
