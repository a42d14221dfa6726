import type { HoldCurves, HoldResult, Meaning } from '#analysis/model/hold-result.ts'
import type { ChannelOrigin } from '#analysis/model/origin.ts'

/** Kinds of evidence the archive keeps; all live in one chain. */
export type RecordKind =
  | 'hold'
  | 'wet'
  | 'level'
  | 'flow'
  | 'work'
  | 'look'
  | 'plug'
  | 'correction'
  | 'acceptance'

/** Input of a seal. */
export interface RecordDraft {
  readonly kind: RecordKind
  /** Path of the recording; its bytes are copied into the record. Null for evidence without one. */
  readonly recordingPath: string | null
  /** Text of the system file at that time. */
  readonly systemText: string
  readonly systemName: string
  /** Published result of `analyze`, or the result of the other kinds of evidence. */
  readonly result: HoldResult | Readonly<Record<string, unknown>>
  readonly operator: string | null
  readonly witness?: string | null
  readonly photos?: readonly { readonly name: string; readonly bytes: Uint8Array }[]
  readonly note?: string | null
  /** Id of the record that this one corrects or retests. */
  readonly corrects?: string | null
  readonly retests?: string | null
  /** Null where unknown, or for evidence without readings. */
  readonly origins?: readonly ChannelOrigin[] | null
}

/** A sealed record: its canonical JSON text (RFC 8785) is hashed and signed. */
export interface SealedRecord {
  /** 1: sealed by version 0.1, without origins. */
  readonly stillhold_record: 1 | 2
  /** `0001-left-feed-10psi` and the like: sequence and subject, unique in the archive. */
  readonly id: string
  readonly sequence: number
  readonly kind: RecordKind
  /** SHA-256 of the previous record's sealed text; null for the first. */
  readonly previous_sha256: string | null
  readonly sealed_at: string
  readonly program: { readonly name: 'stillhold'; readonly version: string }
  readonly recording: { readonly name: string; readonly sha256: string; readonly bytes: number } | null
  readonly system: { readonly name: string; readonly sha256: string; readonly text: string }
  readonly result: RecordDraft['result']
  readonly operator: string | null
  readonly witness: string | null
  readonly photos: readonly { readonly name: string; readonly sha256: string; readonly bytes: number }[]
  readonly note: string | null
  readonly corrects: string | null
  readonly retests: string | null
  /** Source of each channel's readings; null where unknown; absent in a record of version 0.1. */
  readonly origins?: readonly ChannelOrigin[] | null
  readonly public_key: string
  /** Ed25519 over the canonical text without this member, base64. */
  readonly signature: string
}

/** A sealed record with all that lists and the ledger need of its files. */
export interface KnownRecord {
  readonly record: SealedRecord
  /** Of the sealed text. */
  readonly sha256: string
  /** Bytes of its recording, or the path of their file; null for evidence without one. */
  readonly recording: string | Uint8Array | null
  /** The marks of people and loggers in the recording of a hold, as JSON; null or absent: not known without reading it. */
  readonly marks?: string | null
}

/** A sealed record and its recording. */
export interface KeptRecord extends KnownRecord {
  /** The sealed text, byte for byte. */
  readonly recordText: string
}

export interface RecordSummary {
  /** Id of the record; `0001-left-feed@9f2c…` when imported with another archive's chain. */
  readonly id: string
  readonly sequence: number
  readonly kind: RecordKind
  readonly sealed_at: string
  readonly subject: string
  readonly sections: readonly string[]
  readonly verdict: HoldResult['verdict'] | null
  readonly operator: string | null
  readonly corrects: string | null
  readonly retests: string | null
  /** Fingerprint of the key of its imported chain; null for this archive's own. */
  readonly chain: string | null
}

/** Filters; all given ones must match. */
export interface RecordFilter {
  readonly verdict?: HoldResult['verdict']
  readonly section?: string
  readonly kind?: RecordKind
  /** Words that must all occur, in any case, in the subject, people, note, system name, reasons or fittings. */
  readonly text?: string
}

/** A hold record opened for viewing. */
export interface OpenRecord {
  readonly record: SealedRecord
  readonly curves: readonly HoldCurves[]
  /** Hold time in the record's system file, which the allowance refers to, [s]; null when it cannot be read. */
  readonly statedHoldS: number | null
  /** The verdict without the marks withdrawn after it was sealed; null when there are none. */
  readonly corrected: { readonly by: readonly string[]; readonly verdict: HoldResult['verdict'] } | null
  readonly meaning: readonly (Meaning & { readonly section: string })[]
  /** Causes of its interval's width, largest first; null without a gas leak interval. */
  readonly budget: NonNullable<HoldResult['budget']> | null
}
