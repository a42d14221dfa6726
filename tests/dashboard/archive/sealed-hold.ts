import { readFileSync } from 'node:fs'
import type { HoldResult, Verdict } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { holdDraft } from './bench-archive.ts'

const recordings = new URL('../../../recordings/', import.meta.url)
export const floatplaneText = readFileSync(new URL('floatplane.yaml', recordings), 'utf8')
const floatplane = readSystemFile(floatplaneText, 'floatplane.yaml').system!

export function demoRecordingPath(name: string): string {
  return new URL(`${name}.lp`, recordings).pathname
}

/** Seals a demo recording as the bench does: analyzed, then sealed. `changes` falsifies the result before sealing. */
export function sealDemoHold(
  archive: Archive,
  name: string,
  changes: Partial<HoldResult> = {},
): SealedRecord {
  const path = demoRecordingPath(name)
  const [analysis] = analyzeRecording(readRecordingFile(path, floatplane), floatplane)
  return archive.seal(
    holdDraft(path, {
      systemText: floatplaneText,
      systemName: floatplane.name,
      result: { ...analysis.result, ...changes },
    }),
  )
}

export function otherVerdict(verdict: Verdict): Verdict {
  return verdict === 'pass' ? 'fail' : 'pass'
}
