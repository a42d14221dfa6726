import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { zerosOfHold } from '#analysis/hunt/gauge-drift.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { OriginKind } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import type { KnownRecord, RecordDraft } from '#dashboard/archive/record.ts'
import { sealRecord } from '#dashboard/archive/seal-record.ts'
import { makeSigningKey } from '#dashboard/archive/signing-key.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'
import { demoRecordingPath, floatplaneText, sealDemoHold } from './sealed-hold.ts'

const key = makeSigningKey(emptyFolder())
const at = new Date('2026-04-11T09:00:00Z')
const plane = { systemText: floatplaneText, systemName: 'floatplane' }

/** A record as an archive knows it, the nth of its chain; `marks` are those of its recording. */
function known(n: number, changes: Partial<RecordDraft>, marks: readonly Partial<Mark>[] = []): KnownRecord {
  const draft = holdDraft(null, { ...plane, ...changes })
  const end = { sequence: n - 1, sha256: null }
  const { record, text } = sealRecord(draft, { recording: null, photos: [] }, end, key, '0', at)
  const whole = marks.map((mark) => ({ timeS: 0, id: null, hold: null, fields: {}, ...mark }))
  return { record, sha256: sha256Hex(text), recording: null, marks: JSON.stringify(whole) }
}
const of = (...records: KnownRecord[]) => new ArchiveEvidence().of(records)
const origins = (...kinds: OriginKind[]) =>
  kinds.map((kind, n) => ({
    channel: `p${n}`,
    kind,
    name: kind === 'replay' ? 'old.lp' : null,
    sha256: null,
  }))

const withdraw = (archive: Archive, of: string) =>
  archive.seal(
    holdDraft(null, { ...plane, kind: 'correction', result: { id: '', time_ns: '1', of, from: 'operator' } }),
  )

describe('ArchiveEvidence.of() of a hold', () => {
  it('has its result, its system and the records that it corrects or retests', () => {
    const [hold] = of(known(3, { corrects: '0001-a', retests: '0002-b' }))
    expect(hold).toMatchObject({
      kind: 'hold',
      record: '0003-left-feed-10psi',
      corrects: '0001-a',
      retests: '0002-b',
    })
    expect(hold).toMatchObject({
      result: { hold: 'left-feed-10psi' },
      system: { name: systemFromFile(floatplaneText, 'a').name },
    })
    expect(hold).not.toHaveProperty('doubt')
    expect(of(known(1, { systemText: 'no system file' }))).toEqual([])
  })

  it.each<[string, Partial<RecordDraft>, readonly Partial<Mark>[], string | null]>([
    ['read by a bench', { origins: origins('serial', 'tcp', 'http', 'mqtt') }, [], null],
    ['of unknown source', { origins: null }, [], 'the source of its readings is unknown'],
    ['of no source', { origins: [] }, [], 'the source of its readings is unknown'],
    [
      'replayed',
      { origins: origins('serial', 'replay') },
      [],
      'its readings are replayed from a recording (old.lp)',
    ],
    ['imported', { origins: origins('serial', 'import') }, [], 'its readings are imported'],
    ['typed', { origins: origins('typed') }, [], 'its readings are typed'],
    [
      'partly simulated',
      { origins: origins('serial', 'demo') },
      [],
      'its readings come from the simulated bench',
    ],
    ['simulated, like every other', { origins: origins('demo') }, [], null],
    [
      'with stages by the logger',
      { origins: origins('serial') },
      [{ kind: 'stage', from: 'logger', timeNs: '5' }],
      'its stages were marked by the logger, not by a person',
    ],
    [
      'with stages by a person',
      { origins: origins('serial') },
      [{ kind: 'stage', from: 'operator', timeNs: '5' }],
      null,
    ],
    [
      'with work by the logger',
      { origins: origins('serial') },
      [{ kind: 'work', from: 'logger', timeNs: '5' }],
      null,
    ],
  ])('%s: whether it proves anything before a person accepts it', (_, changes, marks, doubt) => {
    const [hold] = of(known(1, changes, marks))
    expect(hold).toMatchObject({ kind: 'hold' })
    expect((hold as { doubt?: string }).doubt ?? null).toBe(doubt)
  })

  it('of version 0.1, which kept no origins, counts as sealed', () => {
    const hold = known(1, { origins: [] })
    const first = { ...hold, record: { ...hold.record, stillhold_record: 1 as const } }
    expect(of(first)[0]).not.toHaveProperty('doubt')
  })

  it('is accepted by the record that names its hash, with who and why', () => {
    const replayed = known(1, { origins: origins('replay') })
    const acceptance = (record_sha256: string) =>
      known(2, { kind: 'acceptance', result: { record_sha256, because: 'kept by the owner' } })
    const [hold] = of(replayed, acceptance(replayed.sha256))
    expect(hold).toMatchObject({
      accepted: 'its readings are replayed from a recording (old.lp); accepted by A. B.: kept by the owner',
    })
    expect(hold).not.toHaveProperty('doubt')
    expect(of(replayed, acceptance('another'))[0]).toHaveProperty('doubt')
    // Any other kind of record accepts nothing.
    const note = known(2, {
      kind: 'work',
      result: { id: 'F12', time_ns: '1', record_sha256: replayed.sha256 },
    })
    expect(of(replayed, note)[0]).toHaveProperty('doubt')
  })

  it('keeps the marks that tell of fittings; of a logger those that weaken a proof', () => {
    const mark = (kind: Mark['kind'], fields: Mark['fields'] = {}): Partial<Mark> => ({ kind, fields })
    const all = [
      ...[mark('stage'), mark('work'), mark('zero'), mark('note')],
      ...[mark('look', { finding: 'dry' }), mark('look', { finding: 'bubbles' })],
      ...[mark('valve', { open: true }), mark('valve', { open: false })],
      ...[mark('plug', { state: 'out' }), mark('plug', { state: 'in' })],
    ]
    const kept = (from: Mark['from']) => {
      const marks = all.map((one, n) => ({ ...one, timeNs: String(n), ...(from && { from }) }))
      const found = of(known(1, {}, marks)).flatMap((one) => (one.kind === 'mark' ? [one] : []))
      expect(new Set(found.map(({ record }) => record))).toEqual(new Set(['0001-left-feed-10psi']))
      return found.map(({ mark: { timeNs } }) => Number(timeNs))
    }
    for (const from of [undefined, 'operator', 'device'] as const)
      expect(kept(from)).toEqual([1, 4, 5, 6, 7, 8, 9])
    expect(kept('logger')).toEqual([0, 1, 5, 6, 9])
  })

  it('leaves out a mark that a later record withdraws, and the withdrawal', () => {
    const work = known(1, {
      kind: 'work',
      result: { id: 'F12', time_ns: '5', action: 'remake', from: 'operator' },
    })
    const correction = (from: string) =>
      known(2, { kind: 'correction', result: { id: 'F12', time_ns: '9', of: '5', from } })
    expect(of(work)).toHaveLength(1)
    expect(of(work, correction('operator'))).toEqual([])
    expect(of(work, correction('logger'))).toHaveLength(1)
  })

  it('is analyzed again without a mark that a later record of its chain withdraws', () => {
    const archive = archiveIn(emptyFolder())
    sealDemoHold(archive, 'lines-retest')
    const ventNs = '1775897044000000000'
    withdraw(archive, ventNs)
    const evidence = new ArchiveEvidence()
    expect(evidence.of(archive.known().slice(0, 1))[0]).not.toHaveProperty('correctedBy')
    // The pressure shows the vent without its mark.
    const [hold] = evidence.of(archive.known())
    expect(hold).toMatchObject({ correctedBy: ['0002-correction'], result: { verdict: 'pass' } })
  })

  it('proves nothing where no hold is left without a mark that was withdrawn', () => {
    const archive = archiveIn(emptyFolder())
    const marked = tinyRecording.replaceAll('left-feed-10psi', 'feed-lines-10psi').replaceAll('p1=', 'p3=')
    const path = writeRecording(emptyFolder(), 'marked.lp', marked)
    const result = { ...holdDraft(null).result, hold: 'feed-lines-10psi' }
    archive.seal(holdDraft(path, { ...plane, result }))
    withdraw(archive, '1775898000000000000')
    expect(new ArchiveEvidence().of(archive.known())[0]).toMatchObject({
      doubt: 'a mark was corrected after sealing (0002-correction), and no hold is left without it',
    })
  })
})

describe('ArchiveEvidence.of() of other records', () => {
  it('takes work, looks, plugs and corrections as marks, with their own fields', () => {
    for (const kind of ['work', 'look', 'plug'] as const) {
      const result = {
        stillhold: 1,
        id: 'F12',
        section: 'lines',
        time_ns: '5',
        from: 'device',
        action: 'remake',
        torque_Nm: 14,
      }
      expect(of(known(1, { kind, result }))).toEqual([
        {
          kind: 'mark',
          record: '0001-f12',
          mark: {
            timeNs: '5',
            timeS: 0,
            kind,
            id: 'F12',
            hold: null,
            from: 'device',
            fields: { action: 'remake', torque_Nm: 14 },
          },
        },
      ])
    }
    const [{ mark }] = of(known(1, { kind: 'work', result: { id: 7, time_ns: 5 } })) as { mark: Mark }[]
    expect(mark).toEqual({ timeNs: '5', timeS: 0, kind: 'work', id: null, hold: null, fields: {} })
  })

  it('takes what a wet stage proves and what wept, each where it names a fitting', () => {
    const wet = (result: object) => of(known(1, { kind: 'wet', result: { id: 'soak', ...result } }))
    expect(wet({ time_ns: '7', proves: ['F1', 2, 'F2'], wept: ['F3'] })).toEqual([
      { kind: 'wet', record: '0001-soak', timeNs: '7', passed: true, fittings: ['F1', 'F2'] },
      { kind: 'wet', record: '0001-soak', timeNs: '7', passed: false, fittings: ['F3'] },
    ])
    expect(wet({ proves: ['F1'], wept: 'F3' })).toEqual([
      { kind: 'wet', record: '0001-soak', timeNs: '1775898000000000000', passed: true, fittings: ['F1'] },
    ])
    expect(wet({ proves: [] })).toEqual([])
  })

  it('takes nothing of levels, flows and acceptances', () => {
    for (const kind of ['level', 'flow', 'acceptance'] as const)
      expect(of(known(1, { kind, result: { id: 'F1', time_ns: '1', proves: ['F1'] } }))).toEqual([])
  })
})

it('ArchiveEvidence.zeros() reads the zeros of every hold with a recording, from its bytes or its file', () => {
  const archive = archiveIn(emptyFolder())
  const record = sealDemoHold(archive, 'lines-retest')
  archive.seal(holdDraft(null, plane))
  archive.seal(holdDraft(null, { ...plane, kind: 'work', result: { id: 'F12', time_ns: '1' } }))
  const system = systemFromFile(floatplaneText, 'a')
  const bytes = readFileSync(demoRecordingPath('lines-retest'))
  const wanted = zerosOfHold(
    readRecording(bytes, system, record.id),
    system,
    record.result as HoldResult,
    record.id,
  )
  expect(wanted.length).toBeGreaterThan(0)
  const evidence = new ArchiveEvidence()
  expect(evidence.zeros(archive.known())).toEqual(wanted)
  const inMemory = archive.known().map((one) => (one.recording === null ? one : { ...one, recording: bytes }))
  expect(new ArchiveEvidence().zeros(inMemory)).toEqual(wanted)
  // A second time from memory: the files may be gone.
  expect(
    evidence.zeros(
      archive.known().map((one) => (one.recording === null ? one : { ...one, recording: '/gone' })),
    ),
  ).toEqual(wanted)
})
