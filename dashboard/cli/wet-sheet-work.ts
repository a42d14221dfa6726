import { resolve } from 'node:path'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { archiveSurroundings } from '#dashboard/wet/archive-surroundings.ts'
import { type JudgedWork, judgeWork, type WorkKind, type WorkResults } from '#dashboard/wet/judge-work.ts'
import { type KeptRecording, sealWetWork } from '#dashboard/wet/seal-wet-work.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { withArchive } from './archive-action.ts'
import { besideArchive, readNamedFile, type SystemAtHand, type WetOptions } from './wet-action.ts'

/** Recordings that a sheet names, as seen from its folder, kept to be sealed with it. */
export function recordingsBeside(folder: string, system: System) {
  const kept: KeptRecording[] = []
  return {
    kept: kept as readonly KeptRecording[],
    recording(name: string): Recording {
      const path = resolve(folder, name)
      const file = readNamedFile(path)
      if (!kept.some((one) => one.path === path)) kept.push({ path, ...file })
      return readRecordingFile(path, system)
    },
  }
}

/** Judges a sheet beside the archive it may refer to. */
export function judgeSheet<K extends WorkKind>(
  kind: K,
  sheet: unknown,
  system: System,
  recording: (name: string) => Recording,
  archive: { readonly folder: string | undefined; readonly version: string },
): JudgedWork<WorkResults[K]>[] {
  return judgeWork(kind, sheet, system, {
    recording,
    holdVerdict: (id) => besideArchive(archive, (open) => archiveSurroundings(open).holdVerdict(id), null),
    sealedStages: () => besideArchive(archive, (open) => archiveSurroundings(open).sealedStages(), []),
    nowNs: () => BigInt(Date.now()) * 1_000_000n,
    stampsCount: false,
  })
}

/** Seals each judged sheet when asked to, and says as what. */
export function sealIfAsked(
  kind: WorkKind,
  judged: readonly JudgedWork[],
  kept: SystemAtHand,
  options: WetOptions,
  version: string,
  files: Pick<Parameters<typeof sealWetWork>[4], 'photos' | 'recordings'> = {},
): void {
  if (!options.seal) return
  const ids = withArchive(options.data, { programVersion: version }, (archive) =>
    judged.map((one) => sealWetWork(archive, kind, one, kept, { ...people(one, options), ...files }).id),
  )
  process.stderr.write(`Signed and locked as ${ids.join(', ')}.\n`)
}

/** A line of the work sheet names who did it; the other sheets leave it to the command. */
function people(
  { result }: JudgedWork,
  { operator, witness }: WetOptions,
): { operator?: string; witness?: string } {
  return { operator: 'by' in result ? result.by : operator, witness }
}
