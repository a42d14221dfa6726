import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { openArchive } from '#dashboard/archive/archive.ts'
import { printReport } from '#dashboard/archive/print.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { httpTarget } from './http-target.ts'
import {
  floatplane,
  intakeTarget,
  recordingTarget,
  recordTarget,
  reportTarget,
  systemTarget,
  type Target,
} from './targets.ts'

/** Every target with how many inputs a quick and a long run give it. */
export async function allTargets(): Promise<{ target: Target; quick: number; long: number }[]> {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-fuzz-'))
  try {
    const archive = openArchive(folder, { programVersion: '0' })
    const path = fileURLToPath(new URL('../../recordings/lines-retest.lp', import.meta.url))
    const [{ result }] = analyzeRecording(readRecordingFile(path, floatplane), floatplane)
    const { id } = archive.seal({
      kind: 'hold',
      recordingPath: path,
      systemText: readFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url), 'utf8'),
      systemName: floatplane.name,
      result,
      operator: 'O. P.',
    })
    const text = Buffer.from(archive.getText(id))
    const pdf = await printReport(archive.folder, archive.keptRecord(id), '0')
    archive.close()
    const recording = readFileSync(path)
    return [
      { target: intakeTarget, quick: 2000, long: 200_000 },
      { target: systemTarget, quick: 60, long: 10_000 },
      { target: recordingTarget, quick: 12, long: 500 },
      { target: recordTarget(text, recording), quick: 150, long: 10_000 },
      { target: await httpTarget(), quick: 300, long: 20_000 },
      { target: reportTarget(pdf), quick: 15, long: 500 },
    ]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
