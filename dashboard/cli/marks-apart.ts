import { readFileSync, statSync } from 'node:fs'
import { basename } from 'node:path'
import type { System } from '#analysis/model/system.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { type RecordingRead, RecordingReader } from '#ingest/recording/recording-reader.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'

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
