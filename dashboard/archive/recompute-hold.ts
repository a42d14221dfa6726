import type { HoldAnalysis, HoldResult, Verdict } from '#analysis/model/hold-result.ts'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { mayCorrect } from '#ingest/recording/corrected-marks.ts'
import { readRecording, readRecordingFile } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { readSystemFile, type SystemFileReading } from '#ingest/system-file/read-system-file.ts'
import type { SealedRecord } from './record.ts'

export interface Recomputed {
  readonly system: System | null
  readonly analysis: HoldAnalysis | null
  /** Why there is no analysis, in one plain sentence; null when there is one. */
  readonly why: string | null
  /** Marks of the recording, in the order of time. */
  readonly marks: readonly Mark[]
  /** The hold without the marks withdrawn after it was sealed; absent when there are none. */
  readonly corrected?: CorrectedHold
}

export interface CorrectedHold {
  /** Records that withdraw its marks. */
  readonly by: readonly string[]
  /** Null when no such hold remains. */
  readonly result: HoldResult | null
  readonly verdict: Verdict
}

/** The record that withdraws a mark, by the time of the mark, epoch nanoseconds as text. */
export type TakenBack = ReadonlyMap<string, string>

/** Marks withdrawn by a person in the same chain after a hold was sealed. */
export function takenBackAfter(hold: SealedRecord, records: readonly SealedRecord[]): TakenBack {
  return new Map(
    records.flatMap(({ id, kind, sequence, public_key, result }): [string, string][] => {
      if (kind !== 'correction' || sequence <= hold.sequence || public_key !== hold.public_key) return []
      const { of, from } = result as Readonly<Record<string, unknown>>
      return from === 'logger' ? [] : [[String(of), id]]
    }),
  )
}

/**
 * Reanalyzes the hold of a record from the recording's bytes and the system file it was sealed with. The fittings that may
 * leak are left out: nothing compares or prints them.
 *
 * @param budget also computes the causes of the interval's width, some milliseconds more
 * @param recording its bytes, or the path of its file, which is read in parts; null when it is not available
 */
export function recomputeHold(
  record: SealedRecord,
  recording: Uint8Array | string | null,
  takenBack: TakenBack = new Map(),
  budget = false,
): Recomputed {
  const { system, errors } = systemOfRecord(record)
  if (system === null) {
    return {
      system,
      analysis: null,
      why: `this program cannot read its system file: ${errors[0]?.message}`,
      marks: [],
    }
  }
  const sealed = record.result as Partial<HoldResult>
  if (record.kind !== 'hold') return { system, analysis: null, why: 'it is not a pressure hold', marks: [] }
  if (recording === null) return { system, analysis: null, why: 'its recording is not available', marks: [] }
  let read: Recording
  try {
    const name = record.recording?.name ?? 'recording'
    read =
      typeof recording === 'string'
        ? readRecordingFile(recording, system, undefined, name)
        : readRecording(recording, system, name)
  } catch (cause) {
    if (!(cause instanceof UnreadableFile)) throw cause
    return { system, analysis: null, why: cause.message, marks: [] }
  }
  const analyzed = (from: Recording): HoldAnalysis | null => {
    const found = analyzeRecording(from, system, { hold: sealed.hold, suspects: false, budget })
    return found.length === 0 ? null : nearestInTime(found, sealed.stages?.hold_ns ?? null)
  }
  const isTakenBack = (mark: Mark) => mayCorrect(mark) && takenBack.has(mark.timeNs)
  const gone = read.marks.filter(isTakenBack)
  let corrected: CorrectedHold | undefined
  if (gone.length > 0) {
    const result =
      analyzed({ ...read, marks: read.marks.filter((mark) => !isTakenBack(mark)) })?.result ?? null
    const by = [...new Set(gone.map(({ timeNs }) => takenBack.get(timeNs)!))]
    corrected = { by, result, verdict: result?.verdict ?? 'void' }
  }
  const analysis = analyzed(read)
  const { marks } = read
  if (analysis === null) return { system, analysis, why: 'its recording has no such hold', marks, corrected }
  return { system, analysis: withHoldStart(analysis, read.startNs), why: null, marks, corrected }
}

/** The start of the hold on the curves' time scale. */
function withHoldStart(analysis: HoldAnalysis, startNs: string): HoldAnalysis {
  const holdNs = analysis.result.stages.hold_ns
  const holdStartS = holdNs === null ? null : Number(BigInt(holdNs) - BigInt(startNs)) / 1e9
  return { ...analysis, curves: analysis.curves.map((curves) => ({ ...curves, holdStartS })) }
}

/** One recording may contain the same hold several times; the sealed one began at the same time. */
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

/** Cache size: the records of a workshop have few different system files, and reading one takes as long as judging a hold. */
const keptAtMost = 50
const kept = new Map<string, SystemFileReading>()

/** The system file that a record was sealed with; a valid text is read once. */
export function systemOfRecord({ id, system }: Pick<SealedRecord, 'id' | 'system'>): SystemFileReading {
  const known = kept.get(system.text)
  if (known !== undefined) return known
  const read = readSystemFile(system.text, `system file of ${id}`)
  if (kept.size >= keptAtMost) kept.clear()
  if (read.errors.length === 0) kept.set(system.text, read)
  return read
}
