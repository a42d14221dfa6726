import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { ledger } from '#analysis/hunt/ledger.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { printDossier } from '#dashboard/archive/print.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveSurroundings } from '#dashboard/wet/archive-surroundings.ts'
import { judgeWork, type WorkKind } from '#dashboard/wet/judge-work.ts'
import { sealWetWork } from '#dashboard/wet/seal-wet-work.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder } from '#tests/dashboard/archive/bench-archive.ts'

const wet = new URL('../../../recordings/wet/', import.meta.url)
const text = readFileSync(new URL('floatplane-wet.yaml', wet), 'utf8')
const system = readSystemFile(text, 'floatplane-wet.yaml').system!
const sender = new URL('left-sender.lp', wet).pathname

/** A whole evening at the demo workshop, sheet by sheet as the commands and the page judge and lock them. */
test('an evening: a few liters in, pump on, two weeps, worked on, pressed again, filled, calibrated, to a dossier (demo sheets)', async () => {
  const archive = archiveIn(emptyFolder(), { now: () => new Date('2026-06-01T09:00:00Z') })
  const lock = (kind: WorkKind, sheet: unknown): string[] =>
    judgeWork(kind, sheet, system, {
      ...archiveSurroundings(archive),
      recording: () => readRecordingFile(sender, system),
      nowNs: () => BigInt(Date.parse('2026-06-01')) * 1_000_000n,
      stampsCount: false,
    }).map((one) => {
      const recordings =
        kind === 'level' ? [{ path: sender, name: 'left-sender.lp', bytes: readFileSync(sender) }] : []
      sealWetWork(archive, kind, one, { text, name: system.name }, { operator: 'ab', recordings })
      return one.result.verdict
    })
  const sheet = (name: string): unknown => parse(readFileSync(new URL(`${name}.yaml`, wet), 'utf8'))
  const states = (...ids: string[]) => {
    const { fittings } = ledger(system, new ArchiveEvidence().of(archive.kept()))
    return ids.map((id) => fittings.find((one) => one.id === id)!.wet!.state)
  }
  for (const name of ['before-fuel', 'initial-fill', 'opened'])
    expect(lock('wet', sheet(name))).toEqual(['pass'])
  expect(lock('wet', sheet('pump-on'))).toEqual(['fail'])
  expect(states('F12', 'F16', 'F11')).toEqual(['failed', 'failed', 'proven'])
  expect(lock('work', sheet('evening-work'))).toEqual(['pass', 'pass'])
  expect(lock('wet', sheet('pump-on-again'))).toEqual(['pass'])
  expect(states('F12', 'F16')).toEqual(['proven', 'proven'])
  expect(lock('wet', sheet('soak'))).toEqual(['fail'])
  expect(states('F01', 'F02', 'F03')).toEqual(['never-held', 'failed', 'proven'])
  const calibration = { channel: 'sender-left', steps: 8, recordings: ['left-sender.lp'] }
  expect(lock('level', calibration)).toEqual(['pass'])
  const file = join(emptyFolder(), 'dossier.pdf')
  writeFileSync(
    file,
    await printDossier(archive.folder, archive.kept(), { name: null, text: null }, '0.0.0-test'),
  )
  const report = await verify(file, { programVersion: '0.0.0-test' })
  expect(report.records.map(({ recomputed }) => recomputed)).toEqual([
    'pass',
    'pass',
    'pass',
    'fail',
    'pass',
    'pass',
    'pass',
    'fail',
    'pass',
  ])
  expect(report.exit_code).toBe(10)
}, 120_000)
