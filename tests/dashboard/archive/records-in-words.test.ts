import { readFileSync, writeFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { Recording } from '#analysis/model/samples.ts'
import { archiveFolder } from '#dashboard/archive/archive-folder.ts'
import { tableRows } from '#dashboard/archive/evidence-table.ts'
import { attachmentsOf, checkPdfSeal, readPdf } from '#dashboard/archive/pdf-file.ts'
import { printDossier } from '#dashboard/archive/print.ts'
import { Gists } from '#dashboard/archive/record-gist.ts'
import { clockFaults, textOf } from '#dashboard/archive/record-words.ts'
import { csvField, samplesCsv } from '#dashboard/archive/samples-csv.ts'
import { sealRecord } from '#dashboard/archive/seal-record.ts'
import { makeSigningKey } from '#dashboard/archive/signing-key.ts'
import { openRecordIndex } from '#dashboard/archive/store/record-index.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import {
  fitting,
  held,
  holdSpec,
  leak,
  marked,
  section,
  system,
  valve,
} from '#tests/analysis/hunt/made-system.ts'
import { archiveIn, emptyFolder, holdDraft, tinyRecording, writeRecording } from './bench-archive.ts'
import { demoRecordingPath, floatplaneText } from './sealed-hold.ts'

it.each([
  ['fault', { code: 'silent' }, 'logger silent'],
  ['fault', { code: 'open-failed' }, 'logger gone'],
  ['fault', { code: 'logger-reset' }, 'logger restarted'],
  ['fault', { code: 'interrupted' }, 'broken off'],
  ['fault', { code: 'some-other-fault', text: 'x' }, 'some other fault'],
  ['fault', { text: 'a word' }, 'a word'],
  ['gap', { seconds: 10, text: 'x' }, 'nothing for 10 s'],
  ['gap', { text: 'lost lines' }, 'lost lines'],
  ['clock', { text: 'x' }, 'clock wrong'],
  ['note', { text: 'unchecked: a' }, 'unchecked: a'],
  ['look', { text: 'checked: a' }, 'checked: a'],
  ['supply', { name: 'shop air' }, 'supply shop air'],
  ['work', { action: 'remake', torque_Nm: '14' }, 'remake'],
  ['valve', { open: 'yes' }, 'open yes'],
  ['plug', { open: true }, 'open true'],
  ['fault', { code: 'unplugged' }, 'logger unplugged'],
  ['fault', { code: 'pressure-lost' }, 'pressure lost'],
  ['gap', { seconds: 9.94 }, 'nothing for 9.9 s'],
  ['gap', { seconds: 10.4 }, 'nothing for 10 s'],
  ['place', { section: 'rig' }, 'on rig'],
  ['supply', { name: 'off' }, 'supply off'],
  ['supply', { name: 'on' }, 'supply on'],
  ['stage', { name: 'hold' }, 'hold'],
  ['look', { finding: 'bubbles' }, 'bubbles'],
  ['work', { action: 'remake' }, 'remake'],
  ['work', { action: 'remake', torque_Nm: 14.1 }, 'remake, 14.1 N·m'],
  ['valve', { open: true }, 'opened'],
  ['check', { open: false }, 'shut'],
  ['zero', { reading: 1, true: 0 }, 'reading 1, true 0'],
  ['note', { text: 'checked: a; b' }, 'state sheet'],
] as const)('textOf(%s %j) is %j', (kind, fields, text) => {
  expect(textOf({ timeNs: '0', timeS: 0, kind, id: null, hold: null, fields })).toBe(text)
})

describe('samplesCsv()', () => {
  it('names each column with its SI unit, leaves out channels without readings, and puts marks of a moment on one line', () => {
    const kinds = {
      ...{ a: 'gauge-pressure', b: 'absolute-pressure', c: 'temperature', d: 'barometric-pressure' },
      ...{ e: 'reference-pressure', f: 'level-sender', g: 'fuel-flow', h: 'temperature' },
    }
    const channels = Object.entries(kinds).map(([id, measures]) => ({ id, measures }))
    const columns = (timeS: number[]) => ({
      timeS: Float64Array.from(timeS),
      reading: Float64Array.from(timeS),
    })
    const mark = { kind: 'note', id: null, hold: null, fields: { text: 'a' }, timeS: 3, timeNs: '3' }
    const recording = {
      startNs: '1775898000000000000',
      channels: [
        ...channels.map(({ id }) => ({ channel: id, ...columns(id === 'h' ? [] : [1]) })),
        { channel: 'unknown', ...columns([2.0000015]) },
      ],
      marks: [
        mark,
        { ...mark, kind: 'look', id: 'F1', hold: 'h', fields: { finding: 'dry', n: 2 } },
        { ...mark, timeS: 4 },
      ],
    } as unknown as Recording
    expect([...samplesCsv(recording, { channels } as never)]).toEqual([
      'time,seconds,a_Pa,b_Pa,c_K,d_Pa,e_Pa,f,g_m3_per_s,unknown,mark\r\n',
      '2026-04-11T09:00:01.000000Z,1.000000,1,1,1,1,1,1,1,,\r\n',
      '2026-04-11T09:00:02.000002Z,2.000002,,,,,,,,2.0000015,\r\n',
      '2026-04-11T09:00:03.000000Z,3.000000,,,,,,,,,note text=a; look F1 h finding=dry n=2\r\n',
      '2026-04-11T09:00:04.000000Z,4.000000,,,,,,,,,note text=a\r\n',
    ])
  })
  it.each([
    ['a b', 'a b'],
    ['a,b', '"a,b"'],
    ['a"b"', '"a""b"""'],
    ['a\nb', '"a\nb"'],
    ['a\rb', '"a\rb"'],
  ])('csvField(%j) is %j (RFC 4180, section 2)', (text, field) => {
    expect(csvField(text)).toBe(field)
  })
})

it.each([
  // A calibration's day begins anywhere on Earth up to a day earlier.
  ['2026-04-11T00:00:30Z', '2026-04-12', 0],
  ['2026-04-11T23:58:00Z', '2026-04-13', 1],
  ['2026-04-11T23:59:30Z', '2026-04-13', 0],
  ['2026-04-10T23:58:00Z', '2026-04-12', 1],
])(
  'a record sealed %s with an instrument calibrated %s has %i signs of a wrong clock',
  (sealedAt, date, count) => {
    const system = { channels: [{ calibration: { date: '2020-01-01' } }, { calibration: { date } }] } as never
    const faults = clockFaults(sealedAt, {}, system, null)
    expect(faults).toHaveLength(count)
    if (count > 0)
      expect(faults[0]).toMatch(
        /^sealed 2026-04-1\d \d\d:\d\d UTC, but an instrument was calibrated 2026-.* UTC: the clock was wrong$/,
      )
  },
)

it('clockFaults() takes the latest stage, and only times of stages', () => {
  const ns = (time: string) => String(BigInt(Date.parse(time)) * 1_000_000n)
  const said = (stages: object) => clockFaults('2026-04-11T09:00:00Z', { stages } as never, null, null)
  const late = ns('2026-04-11T09:05:00Z')
  expect(
    said({ pump_up_ns: ns('2026-04-11T08:00:00Z'), vent_ns: late, end_ns: null, source: 'marks' }),
  ).toEqual(['sealed 2026-04-11 09:00 UTC, but its hold is of 2026-04-11 09:05 UTC: the clock was wrong'])
  expect(said({ vent_ns: Number(late), hold_ns: `${late}1`, settle_ns: `x${late}` })).toEqual([])
  expect(
    clockFaults('2026-04-11T09:00:00Z', {}, null, { id: '0001-a', sealed_at: '2026-04-11T10:00:00Z' }),
  ).toEqual([
    'sealed 2026-04-11 09:00 UTC, but 0001-a, the previous record, 2026-04-11 10:00 UTC: the clock was wrong',
  ])
})

describe('Gists', () => {
  const made = (bytes: number, changes: object = {}) => {
    const folder = emptyFolder()
    const paths = archiveFolder(folder)
    const archive = archiveIn(folder)
    archive.close()
    const text = readFileSync(demoRecordingPath('lines-retest'))
    const kept = { recording: { name: 'a.lp', sha256: sha256Hex(text), bytes }, photos: [] }
    writeFileSync(paths.recordingFile(sha256Hex(text)), text)
    const key = makeSigningKey(emptyFolder())
    const draft = holdDraft(null, { systemText: floatplaneText, ...changes })
    const { record, text: sealed } = sealRecord(
      draft,
      kept,
      { sequence: 0, sha256: null },
      key,
      '0',
      new Date(0),
    )
    writeFileSync(paths.recordFile('', record.id), sealed)
    const index = openRecordIndex(null)
    const row = { chain: '', sequence: 1, id: record.id, sha256: sha256Hex(sealed), text: sealed }
    index.put(row)
    return { gists: new Gists(paths, key, '0'), index, row, path: paths.recordFile('', record.id), paths }
  }
  it('keep the marks of recordings up to 50 MB, of holds only, and none where they cannot be read', () => {
    const marksOf = (bytes: number, changes: object = {}) => {
      const { gists, index, row } = made(bytes, changes)
      const { marks } = gists.put(index, row)
      expect(gists.read(index)?.map((one) => one.marks)).toEqual([marks])
      return marks && JSON.parse(marks).map(({ kind }: { kind: string }) => kind)
    }
    expect(marksOf(50e6)).toContain('stage')
    expect(marksOf(50e6)).not.toContain('origin')
    expect(marksOf(50e6 + 1)).toBeNull()
    expect(marksOf(1, { kind: 'work', result: { id: 'F12', time_ns: '1' } })).toBeNull()
    expect(marksOf(1, { systemText: 'none' })).toBeNull()
    const gone = made(1)
    writeFileSync(gone.paths.recordingFile(JSON.parse(gone.row.text).recording.sha256), 'no recording')
    expect(gone.gists.put(gone.index, gone.row).marks).toBeNull()
  })
  it('are read by the program that wrote them, of the file as it was, and by no other', () => {
    const { gists, index, row, path, paths } = made(1)
    const wanted = gists.put(index, row)
    expect(gists.read(index)).toEqual([wanted])
    expect(new Gists(paths, makeSigningKey(emptyFolder()), '0').read(index)).toBeNull()
    index.put({ ...row, text: `${row.text} ` })
    expect(gists.read(index)).toBeNull()
    index.put(row)
    expect(gists.read(index)).toEqual([wanted])
    writeFileSync(path, row.text)
    expect(gists.read(index)).toBeNull()
    expect(gists.ofTexts(index)).toEqual([{ ...wanted, marks: null }])
  })
})

describe('openArchive()', () => {
  it('lists the newest first, of one moment by number, and evidence in the order of chains', () => {
    const times = ['09:00', '09:00', '09:05', '09:01'].map((time) => new Date(`2026-04-11T${time}:00Z`))
    let n = -1
    const archive = archiveIn(emptyFolder(), { now: () => times[Math.max(0, n)] })
    for (const fitting of ['F1', 'F2', 'F3', 'F4']) {
      n++
      archive.seal(holdDraft(null, { kind: 'work', result: { fitting }, corrects: 'a', retests: 'b' }))
    }
    expect(archive.list().map(({ sequence }) => sequence)).toEqual([3, 4, 2, 1])
    expect(archive.evidence().map(({ sequence }) => sequence)).toEqual([1, 2, 3, 4])
    expect(archive.list()[3]).toEqual({
      ...{ id: '0001-f1', sequence: 1, kind: 'work', sealed_at: '2026-04-11T09:00:00.000Z', subject: 'F1' },
      ...{ sections: [], verdict: null, operator: 'A. B.', corrects: 'a', retests: 'b', chain: null },
    })
    for (const name of ['0001-f1', '1', '0001']) expect(archive.get(name).id).toBe('0001-f1')
    for (const name of ['0001-f2', '5', '1x', '0001-f1@', '@', '0001-f1@aa'])
      expect(() => archive.get(name)).toThrow(`no record ${name} in `)
    expect([archive.photoPath('x'), archive.photoPath('a'.repeat(64)), archive.recordingPath('1')]).toEqual([
      ...[null, null, null],
    ])
  })

  it('names an imported record by the beginning of its key, and says of a wrong clock when it seals', () => {
    const there = emptyFolder()
    const foreign = archiveIn(there)
    foreign.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F1' } }))
    foreign.close()
    const said: string[] = []
    const times = [new Date('2026-04-11T10:00:00Z'), new Date('2026-04-11T09:00:00Z')]
    const own = archiveIn(emptyFolder(), { now: () => times[0], caution: (line) => said.push(line) })
    own.import(there)
    const [{ id, chain }] = own.list()
    expect(id).toBe(`0001-f1@${chain}`)
    expect(() => own.get('0001-f1')).toThrow('no record 0001-f1')
    expect(() => own.get('1')).toThrow('no record 1')
    own.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F2' } }))
    expect(said).toEqual([])
    times.shift()
    own.seal(holdDraft(null, { kind: 'work', result: { fitting: 'F3' } }))
    expect(said).toEqual([
      '0002-f3: sealed 2026-04-11 09:00 UTC, but 0001-f2, the previous record, 2026-04-11 10:00 UTC: the clock was wrong',
    ])
  })
})

it('printDossier() attaches each record once, an imported one under its signature, and the recordings of its system', async () => {
  const there = emptyFolder()
  const systemText = 'stillhold: 1\nname: plane\nsections:\n  - { id: s, medium: air, volume: 1 L }\n'
  const work = (id: string, more: object = {}) => ({
    ...holdDraft(null, {
      kind: 'work',
      result: { id, action: 'remake', time_ns: '1775898000000000000' },
      systemText,
    }),
    ...{ systemName: 'plane', ...more },
  })
  const foreign = archiveIn(there)
  foreign.seal(work('F1'))
  foreign.close()
  const folder = emptyFolder()
  const own = archiveIn(folder)
  const recordingPath = writeRecording(emptyFolder(), 'a.lp', tinyRecording)
  own.seal(work('F1', { recordingPath }))
  own.seal(
    work('F2', {
      recordingPath: writeRecording(emptyFolder(), 'b.lp', `${tinyRecording}#\n`),
      systemName: 'other',
    }),
  )
  own.import(there)
  const pdf = await printDossier(folder, own.kept(), { name: 'plane', text: null }, '0')
  const names = attachmentsOf(readPdf(checkPdfSeal(pdf).unsealed)).map(({ name }) => name)
  const foreignSignature = own
    .evidence()
    .find(({ public_key }) => public_key !== own.publicKey().base64)!.signature
  expect(names.sort()).toEqual(
    [
      ...['0001-f1.json', '0002-f2.json', `0001-f1@${foreignSignature.slice(0, 4)}.json`],
      ...['dossier.json', `${sha256Hex(tinyRecording)}.lp`],
    ].sort(),
  )
})

it('tableRows() has a hold without a leak by its first section, and what is not known as null', () => {
  const plane = system(
    [section('feed'), section('forward')],
    [fitting('F1', 'feed'), fitting('F3', 'forward')],
    [valve('V1', ['feed', 'forward'])],
    [holdSpec('feed', ['feed'], ['V1'])],
  )
  const failed = held(plane, 'feed', 0, 'void', [leak('feed', 4e-7, 1e-8)], { record: '0001' })
  const without = {
    ...failed,
    doubt: 'replayed',
    result: { ...failed.result, leak: null, sections: ['feed', 'forward'] },
  }
  const gone = { ...failed, record: '0002', result: { ...failed.result, hold: 'none' } }
  const rows = [
    ...tableRows('a1', plane, [
      without as never,
      gone,
      marked('look', 'F1', 10, { torque_Nm: '5' }),
      marked('plug', 'F1', 11, {}),
    ]),
  ]
  const [first] = rows
  expect(first).toMatchObject({
    ...{ row: 'hold', archive: 'a1', section: 'feed', verdict: 'void', counts: false, record: '0001' },
    ...{
      leak_mol_per_s: null,
      leak_low_mol_per_s: null,
      leak_high_mol_per_s: null,
      leak_mL_per_min: null,
      drop_Pa: null,
    },
  })
  expect(rows.filter(({ row, record }) => row === 'hold' && record === '0001')).toHaveLength(1)
  expect(rows.find(({ record }) => record === '0002')).toMatchObject({
    row: 'hold',
    pressure_Pa: null,
    counts: true,
    hold: 'none',
  })
  expect(rows.filter(({ row, record }) => row === 'fitting' && record === '0002')).toEqual([])
  expect(rows.find(({ row }) => row === 'fitting')).toMatchObject({
    fitting: 'F1',
    leaking: null,
    action: null,
    covered: true,
  })
  expect(rows.filter(({ row }) => row === 'look' || row === 'work')).toMatchObject([
    { row: 'look', fitting: 'F1', section: 'feed', action: null, torque_Nm: null, finding: null },
  ])
})
