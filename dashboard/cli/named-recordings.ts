import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldAnalysis, HoldResult } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { nearestInTime } from '#dashboard/archive/recompute-hold.ts'
import { readRecording, readRecordingFile } from '#ingest/recording/read-recording.ts'
import { type RecordingRead, RecordingReader } from '#ingest/recording/recording-reader.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import type { OptionsOf } from './command.ts'
import { type OpenedSystem, openSystem, readable, systemOptions } from './options.ts'
import { ProgressBar } from './terminal.ts'

/** A recording named by the user: a file, `-`, or a record of the archive. */
export interface NamedRecording {
  /** For messages. */
  readonly file: string
  readonly path: string
  /** File name without folder, as in results. */
  readonly name: string
  /** The hold of the record; null for a file. */
  readonly sealed: { readonly hold: string; readonly holdNs: string | null } | null
}

/** Common options of the commands that analyze recordings. */
export const recordingOptions = [
  ...systemOptions,
  ['--hold <id>', 'only the holds of this id'],
  ['--data <folder>', 'folder of the archive, where records are named'],
] as const
export type RecordingOptions = OptionsOf<typeof recordingOptions>

/**
 * Files, patterns such as `*.lp` that no shell has expanded, and records of the archive by number or id, with their
 * system file: the one given, else that of the newest of the records.
 *
 * @throws UnreadableFile
 */
export async function openRecordings(
  named: readonly string[],
  options: RecordingOptions,
): Promise<{ readonly recordings: readonly NamedRecording[]; readonly opened: OpenedSystem }> {
  const isRecord = (name: string) => /^\d+(-\S+)?$/.test(name) && !name.endsWith('.lp') && !existsSync(name)
  const files = (name: string) =>
    expanded(name).map((file) => ({ file, path: file, name: basename(file), sealed: null }))
  if (!named.some(isRecord)) return { recordings: named.flatMap(files), opened: openSystem(options) }
  // Files need no archive, which loads slowly.
  const { withArchive } = await import('./archive-action.ts')
  return withArchive(options.data, { readOnly: true }, (archive) => {
    let newest: { file: string; text: string } | undefined
    const recordings = named.flatMap((name): NamedRecording[] => {
      if (!isRecord(name)) return files(name)
      const { record, recording } = archive.keptRecord(name)
      if (typeof recording !== 'string' || record.recording === null)
        throw new UnreadableFile(record.id, null, 'has no recording to analyze')
      newest = { file: `system file of ${record.id}`, text: record.system.text }
      const { hold, stages } = record.result as HoldResult
      const sealed = record.kind === 'hold' ? { hold, holdNs: stages.hold_ns } : null
      return [{ file: record.id, path: recording, name: record.recording.name, sealed }]
    })
    return { recordings, opened: openSystem(options, newest) }
  })
}

/** The files that match a pattern in the last part of a path; any other path unchanged. */
function expanded(name: string): string[] {
  const pattern = basename(name)
  if (!/[*?]/.test(pattern) || existsSync(name)) return [name]
  const folder = dirname(name)
  const wanted = new RegExp(
    `^${pattern
      .replace(/[.+^${}()|[\]\\]/g, '\\$&')
      .replaceAll('*', '.*')
      .replaceAll('?', '.')}$`,
    process.platform === 'win32' ? 'i' : '',
  )
  const found = readable(folder, () => readdirSync(folder))
    .filter((file) => wanted.test(file))
    .sort()
  if (found.length === 0) throw new UnreadableFile(name, null, 'no file fits this pattern')
  return found.map((file) => join(folder, file))
}

/** @throws UnreadableFile */
export function readNamed(
  { file, path, name }: NamedRecording,
  system: System,
  bar: ProgressBar,
): RecordingRead {
  return readable(file, () =>
    readRecordingFile(path, system, (share) => bar.at(`reading ${name}`, share), name),
  )
}

/** The requested holds; for a record only its own hold. */
export function holdsIn(
  recording: RecordingRead,
  { sealed }: NamedRecording,
  system: System,
  hold?: string,
  budget = false,
): HoldAnalysis[] {
  const found = analyzeRecording(recording, system, { hold: hold ?? sealed?.hold, budget })
  return sealed === null || found[0]?.result.hold !== sealed.hold
    ? found
    : [nearestInTime(found, sealed.holdNs)]
}

/** One recording with its holds analyzed, as evidence about fittings. */
export interface AnalyzedRecording {
  readonly file: string
  readonly results: readonly HoldResult[]
  readonly evidence: readonly Evidence[]
}

/** @throws UnreadableFile */
export function analyzedRecording(named: NamedRecording, system: System, hold?: string): AnalyzedRecording {
  const bar = new ProgressBar()
  try {
    const recording = readNamed(named, system, bar)
    bar.next(`analyzing ${named.name}`)
    const results = holdsIn(recording, named, system, hold).map(({ result }) => result)
    const holds = results.map(
      (result): Evidence => ({ kind: 'hold', record: null, result, system, corrects: null, retests: null }),
    )
    const marks = recording.marks.map((mark): Evidence => ({ kind: 'mark', record: null, mark }))
    return { file: named.file, results, evidence: [...holds, ...marks] }
  } finally {
    bar.end()
  }
}

/** A file of marks alone: the operator's notes beside the logger's own recording. */
export interface MarksApart {
  readonly file: string
  readonly bytes: Uint8Array
  readonly firstNs: bigint
  readonly lastNs: bigint
}

/** Maximum size of a day's marks, [bytes]. */
const mostBytes = 4 << 20
/** Maximum gap between the marks' period and the recording they belong to, [ns]. */
const nearNs = 600_000_000_000n

/** Of several files, those with marks and no sample of the system. A single one is a normal recording. */
export function marksApart(files: readonly string[], system: System): MarksApart[] {
  if (files.length < 2) return []
  return files.flatMap((file): MarksApart[] => {
    try {
      if (statSync(file).size > mostBytes) return []
      const bytes = readFileSync(file)
      const { marks, channels } = readRecording(bytes, system, basename(file))
      const [first, last] = [marks[0], marks.at(-1)]
      if (!first || !last || channels.some(({ timeS }) => timeS.length > 0)) return []
      return [{ file, bytes, firstNs: BigInt(first.timeNs), lastNs: BigInt(last.timeNs) }]
    } catch (cause) {
      // Faults of a file are reported when it is read.
      if (cause instanceof UnreadableFile || (cause as NodeJS.ErrnoException).code !== undefined) return []
      throw cause
    }
  })
}

/** The marks that were made during a recording. */
export function marksOf(
  { startNs, channels }: RecordingRead,
  apart: readonly MarksApart[],
): readonly MarksApart[] {
  const lastS = Math.max(0, ...channels.map(({ timeS }) => timeS[timeS.length - 1] ?? 0))
  const firstNs = BigInt(startNs)
  const lastNs = firstNs + BigInt(Math.round(lastS * 1e9))
  return apart.filter((marks) => marks.lastNs >= firstNs - nearNs && marks.firstNs <= lastNs + nearNs)
}

/** A recording read again as if it contained the marks. */
export function readWithMarks(
  { path, name }: { readonly path: string; readonly name: string },
  system: System,
  marks: readonly MarksApart[],
): RecordingRead {
  const reader = new RecordingReader(system, name)
  reader.push(readFileSync(path))
  for (const { bytes } of marks) {
    reader.push(Buffer.from('\n'))
    reader.push(bytes)
  }
  return reader.finish()
}
