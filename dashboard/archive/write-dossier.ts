import { readFileSync } from 'node:fs'
import { ledger } from '#analysis/hunt/ledger.ts'
import { ArchiveEvidence, type KeptRecord } from '#dashboard/archive/archive-evidence.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import type { Archive } from './archive.ts'
import { ArchiveError } from './archive-error.ts'
import { type DossierProof, renderDossier } from './dossier.ts'
import { recomputeHold } from './recompute-hold.ts'

/**
 * Prints the dossier of one system of the archive: the one named, else that of the newest record. Its ledger reasons
 * from the newest system file of that name.
 *
 * @throws ArchiveError `not-found` when there is no such record, `bad-record` when the system file cannot be read
 */
export async function writeDossier(
  archive: Archive,
  programVersion: string,
  systemName: string | null = null,
): Promise<Uint8Array> {
  const all = archive.evidence()
  const name = systemName ?? all.at(-1)?.system.name
  const records = all.filter((record) => record.system.name === name)
  const newest = records.at(-1)
  if (newest === undefined) {
    const known = [...new Set(all.map((record) => record.system.name))].join(', ')
    const message = known ? `no record of ${name}; there are records of: ${known}` : 'it holds no records yet'
    throw new ArchiveError('not-found', archive.folder, `no dossier from ${archive.folder}: ${message}`)
  }
  const { system, errors } = readSystemFile(newest.system.text, `system file of ${newest.id}`)
  if (system === null) {
    const message = `no dossier: the system file of ${newest.id} cannot be read: ${errors[0]?.message}`
    throw new ArchiveError('bad-record', archive.folder, message)
  }
  const kept = records.map((record) => ({
    record,
    recordText: archive.getText(archive.addressOf(record)),
    recordingPath: archive.recordingPath(record),
  }))
  const state = ledger(system, new ArchiveEvidence().of(kept))
  const proofs = kept.map(proofOf)
  return renderDossier(
    { ledger: state, proofs, programVersion, key: archive.publicKey() },
    archive.signingKey(),
  )
}

function proofOf({ record, recordText, recordingPath }: KeptRecord): DossierProof {
  const recording = recordingPath === null ? null : readFileSync(recordingPath)
  const { system, analysis } = recomputeHold(record, recording)
  return { record, recordText, recording, system, analysis }
}
