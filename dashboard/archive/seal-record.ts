import { canonicalText } from './canonical-text.ts'
import type { RecordDraft, SealedRecord } from './record.ts'
import { recordSubject } from './record-words.ts'
import { type SigningKey, signatureHolds } from './signing-key.ts'
import { sha256Hex } from './write-durably.ts'

/** State of the chain before the new record. */
export interface ChainEnd {
  readonly sequence: number
  /** SHA-256 of the last sealed text; null at the beginning of the chain. */
  readonly sha256: string | null
}

export interface Sealed {
  readonly record: SealedRecord
  /** The canonical text: the bytes of the record file, and the input of the next record's `previous_sha256`. */
  readonly text: string
}

/** Seals a draft: numbers it, links it to the previous record, signs it. Writes nothing. */
export function sealRecord(
  draft: RecordDraft,
  kept: Pick<SealedRecord, 'recording' | 'photos'>,
  after: ChainEnd,
  key: SigningKey,
  programVersion: string,
  sealedAt: Date,
): Sealed {
  const sequence = after.sequence + 1
  const unsigned: Omit<SealedRecord, 'signature'> = {
    stillhold_record: 2,
    id: recordId(sequence, recordSubject(draft)),
    sequence,
    kind: draft.kind,
    previous_sha256: after.sha256,
    sealed_at: sealedAt.toISOString(),
    program: { name: 'stillhold', version: programVersion },
    recording: kept.recording,
    system: { name: draft.systemName, sha256: sha256Hex(draft.systemText), text: draft.systemText },
    result: draft.result,
    operator: draft.operator,
    witness: draft.witness ?? null,
    photos: kept.photos,
    note: draft.note ?? null,
    corrects: draft.corrects ?? null,
    retests: draft.retests ?? null,
    origins: draft.origins ?? null,
    public_key: key.public.base64,
  }
  const text = canonicalText({ ...unsigned, signature: key.sign(canonicalText(unsigned)) })
  return { record: JSON.parse(text), text }
}

/** True when the record's signature is valid under the key it names. */
export function recordSignatureHolds(record: SealedRecord): boolean {
  const { signature, ...unsigned } = record
  return signatureHolds(record.public_key, canonicalText(unsigned), signature)
}

/** `0001-left-feed-10psi`: a safe file name on every system. */
function recordId(sequence: number, subject: string): string {
  const slug = subject
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .slice(0, 48)
    .replace(/^-|-$/g, '')
  return `${String(sequence).padStart(4, '0')}-${slug || 'record'}`
}
