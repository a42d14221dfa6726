import { readFileSync } from 'node:fs'
import { basename } from 'node:path'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemFromFile as systemOfText } from '#ingest/system-file/read-system-file.ts'
import { ProgressBar } from './progress-bar.ts'

/** One recording with its holds analyzed, as evidence about fittings. */
export interface AnalyzedRecording {
  readonly file: string
  readonly results: readonly HoldResult[]
  readonly evidence: readonly Evidence[]
}

/** @throws UnreadableFile naming the first thing that is wrong. */
export function systemFromFile(file: string): System {
  return systemOfText(textOf(file), file)
}

/** @throws UnreadableFile */
export function analyzedRecording(file: string, system: System, hold?: string): AnalyzedRecording {
  const bar = new ProgressBar()
  try {
    const recording = orUnreadable(file, () =>
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

/** Runs a command's work; a file that cannot be used becomes one line on standard error and exit code 2. */
export function fileAction(work: () => void): void {
  try {
    work()
  } catch (cause) {
    if (!(cause instanceof UnreadableFile)) throw cause
    process.stderr.write(`stillhold: ${cause.message}\n`)
    process.exitCode = 2
  }
}

function textOf(file: string): string {
  return orUnreadable(file, () => readFileSync(file, 'utf8'))
}

function orUnreadable<T>(file: string, read: () => T): T {
  try {
    return read()
  } catch (cause) {
    const code = (cause as NodeJS.ErrnoException).code
    if (cause instanceof UnreadableFile || code === undefined) throw cause
    throw new UnreadableFile(file, null, code === 'ENOENT' ? 'no such file' : `cannot be read (${code})`)
  }
}
