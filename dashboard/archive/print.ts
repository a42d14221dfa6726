import { hunt } from '#analysis/hunt/hunt.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { DossierProof } from '#dashboard/archive/page/dossier-proof.ts'
import type { ReportInput } from '#dashboard/archive/page/report-parts.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { ArchiveError } from './archive-error.ts'
import { ArchiveEvidence } from './archive-evidence.ts'
import { archiveFolder, readEvidence } from './archive-folder.ts'
import { headText } from './chain-head.ts'
import { type DossierInput, renderDossierPages } from './dossier.ts'
import { grouped } from './page/figure-words.ts'
import { sealPdf } from './pdf-file.ts'
import { recomputeHold } from './recompute-hold.ts'
import type { KeptRecord } from './record.ts'
import { renderReport } from './report.ts'
import { publicKeyFromBase64, readSigningKey, type SigningKey } from './signing-key.ts'

/**
 * Prints one record of an archive as its test report, sealed with the key that signed the record.
 *
 * @param folder of the archive
 * @throws ArchiveError `key-foreign` when the record came from another archive: only that archive can sign its report
 */
export function printReport(folder: string, kept: KeptRecord, writer: string): Promise<Uint8Array> {
  const { record } = kept
  const key = keyOf(folder)
  if (record.public_key !== key.public.base64) {
    const { fingerprint } = publicKeyFromBase64(record.public_key)
    const message = `${record.id} was signed with the key ${grouped(fingerprint, 4)}: print its report from the archive that has this key, or give the record itself (stillhold export)`
    throw new ArchiveError('key-foreign', folder, message)
  }
  return renderReport(reportInput(kept, writer), key)
}

/** Content of a record's report, from the record and its recording alone. */
export function reportInput(
  { record, recordText, recording }: KeptRecord,
  writer: string,
  recompute = recomputeHold,
): ReportInput {
  const bytes = bytesOf(recording)
  return {
    record,
    recordText,
    recording: bytes,
    ...recompute(record, bytes, undefined, true),
    writer,
  }
}

/**
 * Prints the dossier of a system: the ledger, all of its records, and all their chains, each with its signed
 * count, so that no record can be omitted.
 *
 * @param systemText system file of the ledger; null for that of the newest record of `systemName`
 * @param systemName null for the system of the newest record
 */
export async function printDossier(
  folder: string,
  kept: readonly KeptRecord[],
  system: { readonly text: string | null; readonly name: string | null },
  writer: string,
): Promise<Uint8Array> {
  const name = system.name ?? kept.at(-1)?.record.system.name
  const text = system.text ?? kept.findLast(({ record }) => record.system.name === name)?.record.system.text
  if (name === undefined || text === undefined) {
    const known = [...new Set(kept.map(({ record }) => record.system.name))].join(', ')
    const message = known ? `no record of ${name}; there are records of: ${known}` : 'it has no records yet'
    throw new ArchiveError('not-found', folder, `no dossier from ${folder}: ${message}`)
  }
  const key = keyOf(folder)
  if (!kept.some(({ record }) => record.public_key === key.public.base64)) {
    const message = `no dossier from ${folder}: every record in it came from another archive, and only that one can sign`
    throw new ArchiveError('key-foreign', folder, message)
  }
  const paths = archiveFolder(folder)
  const heads = ['', ...paths.foreignChains()].flatMap((chain) => headText(paths, chain) ?? [])
  const input = dossierInput(kept, { system: { name, text }, heads }, key.public.base64, writer)
  return sealPdf(await renderDossierPages(input), key)
}

/** Content of a dossier, from its attachments alone. */
export function dossierInput(
  kept: readonly KeptRecord[],
  { system: file, heads }: Pick<DossierInput, 'system' | 'heads'>,
  publicKey: string,
  writer: string,
  recompute = recomputeHold,
): DossierInput {
  const { system, errors } = readSystemFile(file.text, `system file of ${file.name}`)
  if (system === null) {
    const message = `no dossier: the system file of ${file.name} cannot be read: ${errors[0]?.message}`
    throw new ArchiveError('bad-record', file.name, message)
  }
  const own = kept.filter(({ record }) => record.system.name === file.name)
  const proofs = own.map((each): DossierProof => {
    const bytes = bytesOf(each.recording)
    return { ...each, recording: bytes, ...recompute(each.record, bytes) }
  })
  const evidence = new ArchiveEvidence().of(own)
  return {
    ledger: ledger(system, evidence),
    hunt: hunt(system, evidence),
    described: system,
    proofs,
    others: kept.filter((each) => !own.includes(each)),
    system: file,
    heads,
    key: publicKeyFromBase64(publicKey),
    writer,
  }
}

function keyOf(folder: string): SigningKey {
  const key = readSigningKey(folder)
  if (key) return key
  throw new ArchiveError(
    'key-missing',
    folder,
    `the signing key in ${folder} is missing: restore it from a backup`,
  )
}

const bytesOf = (recording: KeptRecord['recording']): Uint8Array | null =>
  typeof recording === 'string' ? readEvidence(recording, 'read the recording') : recording
