import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { judgeWork } from '#analysis/fuel-work/judge-work.ts'
import { printDossier } from '#dashboard/archive/print.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { sealWetWork } from '#dashboard/wet/work-archive.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder } from './bench-archive.ts'

const wet = new URL('../../../recordings/wet/', import.meta.url)
const text = readFileSync(new URL('floatplane-wet.yaml', wet), 'utf8')
const system = readSystemFile(text, 'floatplane-wet.yaml').system!
const path = new URL('left-sender.lp', wet).pathname

it('printDossier draws the curve of a sealed calibration, and verify computes it again from the dossier alone', async () => {
  const archive = archiveIn(emptyFolder())
  const [judged] = judgeWork(
    'level',
    { channel: 'sender-left', steps: 8, recordings: ['left-sender.lp'] },
    system,
    {
      recording: () => readRecordingFile(path, system),
      holdVerdict: () => null,
      sealedStages: () => [],
      nowNs: () => BigInt(Date.now()) * 1_000_000n,
      stampsCount: false,
    },
  )
  const recordings = [{ path, name: 'left-sender.lp', bytes: readFileSync(path) }]
  sealWetWork(archive, 'level', judged, { text, name: system.name }, { recordings })
  const folder = emptyFolder()
  const pdf = await printDossier(archive.folder, archive.kept(), { name: null, text: null }, '0.0.0-test')
  const file = join(folder, 'dossier.pdf')
  writeFileSync(file, pdf)
  const report = await verify(file, { programVersion: '0.0.0-test' })
  expect(report.records.map(({ recomputed }) => recomputed)).toEqual(['pass'])
  expect(report.exit_code).toBe(0)
})
