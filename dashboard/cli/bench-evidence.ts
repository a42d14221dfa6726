import { basename } from 'node:path'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { ProgressBar } from './progress-bar.ts'
import { readable } from './system-option.ts'

/** One recording with its holds analyzed, as evidence about fittings. */
export interface AnalyzedRecording {
  readonly file: string
  readonly results: readonly HoldResult[]
  readonly evidence: readonly Evidence[]
}

/** @throws UnreadableFile */
export function analyzedRecording(file: string, system: System, hold?: string): AnalyzedRecording {
  const bar = new ProgressBar()
  try {
    const recording = readable(file, () =>
      readRecordingFile(file, system, (share) => bar.at(`reading ${basename(file)}`, share)),
    )
    bar.next(`analyzing ${basename(file)}`)
    return evidenceOf(file, recording, system, hold)
  } finally {
    bar.end()
  }
}

function evidenceOf(file: string, recording: Recording, system: System, hold?: string): AnalyzedRecording {
  const results = analyzeRecording(recording, system, hold === undefined ? {} : { hold }).map((a) => a.result)
  const holds = results.map(
    (result): Evidence => ({ kind: 'hold', record: null, result, system, corrects: null, retests: null }),
  )
  const marks = recording.marks.map((mark): Evidence => ({ kind: 'mark', record: null, mark }))
  return { file, results, evidence: [...holds, ...marks] }
}
