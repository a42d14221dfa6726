import type { HoldAnalysis, HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording, readRecordingFile } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import type { SealedRecord } from './record.ts'

export interface Recomputed {
  readonly system: System | null
  readonly analysis: HoldAnalysis | null
  /** Why there is no analysis, in one plain sentence; null when there is one. */
  readonly why: string | null
}

/**
 * Analyzes the hold of a record again, from nothing but the recording's bytes and the system file it was sealed with.
 *
 * @param recording its bytes, or the path of its file, which is read in parts; null when it is not at hand
 */
export function recomputeHold(record: SealedRecord, recording: Uint8Array | string | null): Recomputed {
  const { system, errors } = readSystemFile(record.system.text, `system file of ${record.id}`)
  if (system === null) {
    return { system, analysis: null, why: `this program cannot read its system file: ${errors[0]?.message}` }
  }
  const sealed = record.result as Partial<HoldResult>
  if (record.kind !== 'hold') return { system, analysis: null, why: 'it is no pressure hold' }
  if (recording === null) return { system, analysis: null, why: 'its recording is not at hand' }
  let read: Recording
  try {
    const name = record.recording?.name ?? 'recording'
    read =
      typeof recording === 'string'
        ? readRecordingFile(recording, system, undefined, name)
        : readRecording(recording, system, name)
  } catch (cause) {
    if (!(cause instanceof UnreadableFile)) throw cause
    return { system, analysis: null, why: cause.message }
  }
  const found = analyzeRecording(read, system, { hold: sealed.hold })
  if (found.length === 0) return { system, analysis: null, why: 'no such hold is in its recording' }
  const analysis = nearestInTime(found, sealed.stages?.hold_ns ?? null)
  return { system, analysis: withHoldStart(analysis, read.startNs), why: null }
}

/** Says on the curves' own time where the hold began. */
function withHoldStart(analysis: HoldAnalysis, startNs: string): HoldAnalysis {
  const holdNs = analysis.result.stages.hold_ns
  const holdStartS = holdNs === null ? null : Number(BigInt(holdNs) - BigInt(startNs)) / 1e9
  return { ...analysis, curves: analysis.curves.map((curves) => ({ ...curves, holdStartS })) }
}

/** A hold can stand several times in one recording; the one sealed is the one that began at the same time. */
export function nearestInTime(found: readonly HoldAnalysis[], holdNs: string | null): HoldAnalysis {
  if (holdNs === null) return found.at(-1)!
  const distance = (analysis: HoldAnalysis): bigint => {
    const began = analysis.result.stages.hold_ns
    if (began === null) return 1n << 64n
    const away = BigInt(began) - BigInt(holdNs)
    return away < 0n ? -away : away
  }
  return found.reduce((best, each) => (distance(each) < distance(best) ? each : best))
}
