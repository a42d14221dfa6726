import { readFileSync, rmSync, writeFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { type JudgedWork, judgeWork, type WorkKind } from '#analysis/fuel-work/judge-work.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { archiveSurroundings, sealWetWork } from '#dashboard/wet/work-archive.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn as archiveAt, emptyFolder, holdDraft } from './bench-archive.ts'
import { sealDemoHold } from './sealed-hold.ts'

const recordings = new URL('../../../recordings/', import.meta.url)
const demo = (name: string) => readFileSync(new URL(`wet/${name}`, recordings), 'utf8')
const text = demo('floatplane-wet.yaml')
const system = readSystemFile(text, 'floatplane-wet.yaml').system!
const sender = new URL('wet/left-sender.lp', recordings).pathname
const options = { programVersion: '0.0.0-test' }

/** The demo sheets are of May 2026: nothing on a sheet may be later than its seal. */
const archiveIn = (folder: string) => archiveAt(folder, { now: () => new Date('2026-06-01T09:00:00Z') })

const levelSheet = { channel: 'sender-left', steps: 8, recordings: ['left-sender.lp'] }
const sheets: Readonly<Record<WorkKind, unknown>> = {
  wet: parse(demo('soak.yaml')),
  flow: parse(demo('flow.yaml')),
  work: parse(demo('work.yaml')),
  level: levelSheet,
}

/** Judges a sheet beside an archive and seals it; `change` falsifies what was found before it is sealed. */
function sealed(
  archive: ReturnType<typeof archiveIn>,
  kind: WorkKind,
  sheet: unknown = sheets[kind],
  change: (result: Record<string, unknown>) => object = (result) => result,
  files: readonly string[] = kind === 'level' ? [sender] : [],
): SealedRecord[] {
  const kept = files.map((path) => ({ path, name: basename(path), bytes: readFileSync(path) }))
  const judged: JudgedWork[] = judgeWork(kind, sheet, system, {
    ...archiveSurroundings(archive),
    nowNs: () => BigInt(Date.now()) * 1_000_000n,
    stampsCount: false,
    recording: (name) => readRecordingFile(kept.find((one) => one.name === name)!.path, system),
  })
  return judged.map(({ result, sheet: own }) =>
    sealWetWork(
      archive,
      kind,
      { result: change({ ...result }) as JudgedWork['result'], sheet: own },
      { text, name: system.name },
      { operator: 'ab', recordings: kept },
    ),
  )
}

async function checked(folder: string, record: SealedRecord, version = options.programVersion) {
  const report = await verify(join(folder, 'records', `${record.id}.json`), {
    ...options,
    programVersion: version,
  })
  const { findings, ...rest } = report.records[0]
  const said = (state: string) => findings.filter((one) => one.state === state).map((one) => one.text)
  return {
    ...rest,
    exit: report.exit_code,
    broken: said('broken'),
    notes: said('note'),
    holds: said('holds'),
  }
}

describe('verify of wet work', () => {
  it.each(['wet', 'level', 'flow', 'work'] as const)(
    'verify recomputes a %s record from its own sheet, every figure as sealed (demo sheets)',
    async (kind) => {
      const folder = emptyFolder()
      for (const record of sealed(archiveIn(folder), kind)) {
        const found = await checked(folder, record)
        expect(found.broken).toEqual([])
        expect(found.recomputed).toBe(record.result.verdict)
        expect(found.holds.at(-1)).toBe(
          `verdict recomputed from its sheet: ${record.result.verdict}, every figure as sealed`,
        )
      }
    },
  )

  it('verify tells a failing soak that was sealed as passed, signature and all, and counts the fail', async () => {
    const folder = emptyFolder()
    const [record] = sealed(archiveIn(folder), 'wet', sheets.wet, (result) => ({
      ...result,
      verdict: 'pass',
    }))
    const found = await checked(folder, record)
    expect([found.sealed, found.recomputed, found.verdict, found.exit]).toEqual(['pass', 'fail', 'fail', 10])
    expect(found.notes[0]).toContain('verdict DIFFERS: sealed as pass')
  })

  it('verify finds a look that is later than the seal: a night that never happened', async () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    const began = new Date().toISOString()
    const night = { ...(sheets.wet as object), began }
    const judged = judgeWork('wet', night, system, {
      ...archiveSurroundings(archive),
      nowNs: () => BigInt(Date.now() + 864e5) * 1_000_000n,
      stampsCount: false,
      recording: () => readRecordingFile(sender, system),
    })
    const record = sealWetWork(archive, 'wet', judged[0], { text, name: system.name }, {})
    const found = await checked(folder, record)
    expect(found.broken[0]).toContain('later than')
    expect(found.recomputed).toBeNull()
  })

  it('verify tells one changed figure of a calibration, and which', async () => {
    const folder = emptyFolder()
    const [record] = sealed(archiveIn(folder), 'level', levelSheet, (result) => ({
      ...result,
      usable_full_L: (result.usable_full_L as number) + 2,
    }))
    const found = await checked(folder, record)
    expect(found.notes[0]).toContain(
      'with other figures: usable_full_L sealed as 77.2801, computed now as 75.2801',
    )
  })

  it('verify by another version says which version sealed and which computes', async () => {
    const folder = emptyFolder()
    const [record] = sealed(archiveIn(folder), 'flow', sheets.flow, (result) => ({
      ...result,
      verdict: 'pass',
    }))
    const found = await checked(folder, record, '9.9.9')
    expect(found.notes[0]).toContain('version 9.9.9 (sealed by 0.0.0-test) computes')
  })

  it('verify finds a flipped byte in either of two recordings of a calibration, and it is void', async () => {
    for (const which of [0, 1]) {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      const second = join(folder, 'left-sender-again.lp')
      writeFileSync(second, `${demo('left-sender.lp')}# read again\n`)
      const sheet = { ...levelSheet, recordings: ['left-sender.lp', 'left-sender-again.lp'] }
      const [record] = sealed(archive, 'level', sheet, (result) => result, [sender, second])
      expect((await checked(folder, record)).broken).toEqual([])
      const file =
        which === 0
          ? join(folder, 'recordings', `${record.recording!.sha256}.lp`)
          : join(folder, 'photos', record.photos[0].sha256)
      const bytes = readFileSync(file)
      bytes[bytes.length >> 1] ^= 1
      writeFileSync(file, bytes)
      const found = await checked(folder, record)
      expect(found.broken.some((one) => one.includes('was changed'))).toBe(true)
      expect([found.recomputed, found.verdict]).toEqual([null, 'void'])
    }
  })

  it('verify finds any of 60 flipped bytes spread over a flow record', async () => {
    const folder = emptyFolder()
    const [record] = sealed(archiveIn(folder), 'flow')
    const bytes = readFileSync(join(folder, 'records', `${record.id}.json`))
    const copy = join(emptyFolder(), `${record.id}.json`)
    for (let k = 0; k < 60; k++) {
      const changed = Buffer.from(bytes)
      changed[Math.floor((k * bytes.length) / 60)] ^= 1 << (k % 8)
      writeFileSync(copy, changed)
      expect((await verify(copy, options)).exit_code, `part ${k}`).toBe(13)
    }
  })

  it('verify of a record without its recording: void alone, and broken in an archive, where it must be', async () => {
    const folder = emptyFolder()
    const [record] = sealed(archiveIn(folder), 'level')
    rmSync(join(folder, 'recordings', `${record.recording!.sha256}.lp`))
    const why = 'verdict cannot be recomputed: its recording left-sender.lp is missing or was changed'
    const alone = await checked(folder, record)
    expect([alone.exit, alone.broken, alone.notes.includes(why)]).toEqual([12, [], true])
    const { records, exit_code } = await verify(folder, options)
    expect([exit_code, records[0].findings.find(({ text }) => text === why)?.state]).toEqual([13, 'broken'])
  })

  it('verify of a verdict that was sealed without its sheet says so and keeps it', async () => {
    const folder = emptyFolder()
    const result = { id: 'soak', verdict: 'pass', time_ns: '1' }
    const record = archiveIn(folder).seal(holdDraft(null, { kind: 'wet', result, systemText: text }))
    const found = await checked(folder, record)
    expect([found.verdict, found.recomputed, found.broken, found.notes]).toEqual([
      ...['pass', null, []],
      ['sealed without its sheet: its signature holds, but it cannot be recomputed'],
    ])
  })

  describe('the pump-on stage', () => {
    const pumpOn = (hold: string) => ({
      ...(sheets.wet as object),
      stage: 'pump-on',
      done: [1, 2, 3, 4, 5, 6, 7, 8],
      'hold-record': hold,
      looks: ['F02', 'F03', 'F04', 'F05'].map((fitting) => ({ fitting, after: '20 min', finding: 'dry' })),
    })

    it('is computed with the hold it names as the archive has it', async () => {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      const hold = sealDemoHold(archive, 'lines-leak')
      const lie = { verdict: 'pass', hold_verdict: 'pass', proves: ['F02', 'F03', 'F04', 'F05'] }
      const [record] = sealed(archive, 'wet', pumpOn(hold.id), (result) => ({ ...result, ...lie }))
      const report = await verify(folder, options)
      const found = report.records.find(({ id }) => id === record.id)!
      expect([hold.result.verdict, found.sealed, found.recomputed]).toEqual(['fail', 'pass', 'fail'])
    })

    it('is computed alone with the verdict of the hold that was sealed with it', async () => {
      const folder = emptyFolder()
      const archive = archiveIn(folder)
      const [record] = sealed(archive, 'wet', pumpOn(sealDemoHold(archive, 'lines-retest').id))
      expect(record.result).toMatchObject({ hold_verdict: 'pass' })
      expect((await checked(folder, record)).holds.at(-1)).toBe(
        `verdict recomputed from its sheet: ${record.result.verdict}, every figure as sealed`,
      )
    })
  })
})
