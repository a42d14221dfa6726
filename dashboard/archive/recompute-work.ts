import { basename } from 'node:path/posix'
import { judgeWork, type WorkKind } from '#analysis/fuel-work/judge-work.ts'
import { SheetError } from '#analysis/fuel-work/sheet-entries.ts'
import type { EarlierStage } from '#analysis/fuel-work/wet-sheet.ts'
import type { Verdict } from '#analysis/model/hold-result.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemOfRecord } from './recompute-hold.ts'
import type { SealedRecord } from './record.ts'

/** Verdict of another record of the same archive; undefined when it is not available. */
export type FindVerdict = (record: string) => Verdict | null | undefined

export type RecomputedWork =
  | { readonly result: object; readonly why: null; readonly isMissing?: false }
  /** Why it cannot be recomputed, in one plain sentence; `isMissing`: only because a recording is not available. */
  | { readonly result: null; readonly why: string; readonly isMissing?: boolean }

/** Whether a record has the sheet of its result: records older than sheets, and marks, do not. */
export function hasSheet(record: SealedRecord): boolean {
  return record.kind !== 'hold' && 'sheet' in record.result
}

/**
 * Rejudges the sheet of a wet, level, flow or work record from the record, its recordings and, if
 * available, the records it relies on.
 *
 * @param bytesOf bytes of a stored file by its hash; null when it is not available or was changed
 */
export function recomputeWork(
  record: SealedRecord,
  bytesOf: (kind: 'recording' | 'photo', sha256: string) => Uint8Array | null,
  verdictOf: FindVerdict,
): RecomputedWork {
  const { system, errors } = systemOfRecord(record)
  if (system === null)
    return { result: null, why: `this program cannot read its system file: ${errors[0]?.message}` }
  const sealed = record.result as {
    readonly sheet?: unknown
    readonly hold_verdict?: Verdict | null
    readonly before?: readonly (Pick<EarlierStage, 'record' | 'stage' | 'verdict'> & {
      readonly sections?: readonly string[]
    })[]
    readonly sections?: readonly string[]
  }
  const kept = [
    ...(record.recording ? [{ ...record.recording, kind: 'recording' as const }] : []),
    ...record.photos.map((photo) => ({ ...photo, kind: 'photo' as const })),
  ]
  let isMissing = false
  try {
    const [judged] = judgeWork(record.kind as WorkKind, sealed.sheet, system, {
      recording(name) {
        const file = kept.find((one) => one.name === basename(name.replaceAll('\\', '/')))
        const bytes = file ? bytesOf(file.kind, file.sha256) : null
        isMissing ||= bytes === null
        if (bytes === null) throw new SheetError(`its recording ${name} is missing or was changed`)
        return readRecording(bytes, system, basename(name.replaceAll('\\', '/')))
      },
      holdVerdict(id) {
        const now = verdictOf(id)
        return now === undefined ? (sealed.hold_verdict ?? null) : now
      },
      // A stage that the record relies on counts with its present verdict if available, else as sealed.
      sealedStages: () =>
        (sealed.before ?? []).map(({ record: id, stage, sections, verdict }) => ({
          record: id,
          stage,
          sections: sections ?? sealed.sections ?? [],
          verdict: verdictOf(id) ?? verdict,
          timeNs: '0',
        })),
      nowNs: () => BigInt(Date.parse(record.sealed_at)) * 1_000_000n,
      stampsCount: true,
    })
    if (judged === undefined) throw new SheetError('its sheet has no entry')
    return { result: judged.result, why: null }
  } catch (cause) {
    if (!(cause instanceof SheetError || cause instanceof UnreadableFile)) throw cause
    return { result: null, why: cause.message, isMissing }
  }
}
