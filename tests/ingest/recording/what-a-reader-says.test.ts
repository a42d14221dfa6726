import { describe, expect, it } from 'vitest'
import { loggersOwn, markFromPoint } from '#ingest/recording/mark-from-point.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { scaleColumn } from '#ingest/recording/scale-column.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { isWholeLine } from '#ingest/recording/whole-line.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from './contract-system.ts'

const system = systemFromFile(contractSystem, 'plane.yaml')
const header = '# stillhold recording 1\n'
const ns = (s: number) => 1_767_225_600_000_000_000n + BigInt(Math.round(s * 1e9))
const line = (s: number, fields = 'p1=10,t1=20,baro=1013') => `logger,port=a ${fields} ${ns(s)}\n`
const samples = line(0) + line(1) + line(2)
const read = (text: string, against = system) => readRecording(header + text, against, 'a.lp')
const said = (text: string, against = system) => read(text, against).problems

describe('readRecording says', () => {
  it.each([
    ['20 refused lines, each by itself', 20, []],
    ['23 refused lines, the last three as a number', 23, ['3 more lines were refused']],
  ])('%s', (_, count, more) => {
    const { problems, rejectedLines } = read(samples + 'bad\n'.repeat(count))
    expect(problems.map(({ code }) => code)).toEqual(
      Array(Math.min(20, count) + more.length).fill('refused-line'),
    )
    expect(problems[0].line).toBe(5)
    expect(problems.filter((one) => one.line === null).map(({ message }) => message)).toEqual(more)
    expect(rejectedLines).toBe(count)
  })

  it.each([
    ['a half last line', 'logger,port=a p1=1', 5],
    ['a half string over three lines', 'mark,kind=note text="a\nb\nc', 7],
  ])('%s: cut-last-line and its number', (_, half, at) => {
    expect(said(samples + half)).toEqual([
      { code: 'cut-last-line', line: at, message: 'column 1: the last line ends in the middle' },
    ])
  })

  it.each([
    [
      'rejected-on-arrival',
      '#! a: b\n#! c: d\n',
      /^2 lines were rejected on arrival and kept as #! comments$/,
    ],
    [
      'missing-sequence',
      line(3, 'seq=1i') + line(4, 'seq=5i'),
      /^3 of the logger's own line numbers are missing$/,
    ],
    ['unknown-mark', `mark,kind=party x=1 ${ns(3)}\n`, /unknown kind "party"/],
    ['unknown-mark', `mark x=1 ${ns(3)}\n`, /a mark of no kind/],
    [
      'not-a-number',
      line(3, 'p1="a"') + line(4, 'p1=t'),
      /^channel p-left: field "p1" is not a number on 2 lines$/,
    ],
    ['out-of-order', line(1.5), /^channel p-left: 1 samples came out of order/],
  ])('%s with its number', (code, text, message) => {
    const found = said(samples + text).filter((one) => one.code === code)
    expect(found.length).toBeGreaterThan(0)
    expect(found[0].message).toMatch(message)
  })

  it('which channels have no sample, and nothing of those that have', () => {
    expect(said(line(0, 'p1=1')).map(({ code, message }) => [code, message])).toEqual([
      ['no-samples', 'channel t-left: no sample of field "t1" of measurement "logger"'],
      ['no-samples', 'channel baro: no sample of field "baro" of measurement "logger"'],
    ])
    expect(said(samples)).toEqual([])
  })

  it.each([
    ['a series that began earlier comes later in the file', [line(5), `air baro=1 ${ns(3)}\n`], 3],
    ['the first series has the earliest line', [line(3), `air baro=1 ${ns(5)}\n`], 3],
    ['a mark is the earliest', [line(5), `mark,kind=note text="a" ${ns(2)}\n`], 2],
  ])('that it starts with its earliest line: %s', (_, lines, atS) => {
    const text = contractSystem.replace(
      '{ measurement: logger, field: baro }',
      '{ measurement: air, field: baro }',
    )
    const { startNs, channels } = read(lines.join(''), systemFromFile(text, 'plane.yaml'))
    expect(startNs).toBe(String(ns(atS)))
    expect(channels[0].timeS[0]).toBe((lines[0].startsWith('logger') && lines[0] === line(5) ? 5 : 3) - atS)
  })

  it('of a movable gauge that no mark says where it was, and uses its readings only where one does', () => {
    const movable = systemFromFile(
      contractSystem
        .replace(
          'section: left-feed              # barometric-pressure has no section',
          'places: [left-feed, right-feed]',
        )
        .replace('fittings:', '  - { id: right-feed, medium: air, volume: 0.4 L ± 10 % }\nfittings:'),
      'plane.yaml',
    )
    const place = (section: string, s: number) => `mark,kind=place,id=p-left section="${section}" ${ns(s)}\n`
    expect(said(samples, movable).map(({ code }) => code)).toEqual(['no-place'])
    const { problems, channels } = read(samples + place('left-feed', 0.5) + place('right-feed', 1.5), movable)
    expect(problems).toEqual([])
    expect(channels.slice(0, 2).map(({ timeS }) => Array.from(timeS))).toEqual([[1], [2]])
    // A mark of another gauge says nothing about this one.
    const other = place('left-feed', 0.5).replace('p-left', 't-left')
    expect(said(samples + other, movable).map(({ code }) => code)).toEqual(['no-place'])
  })
})

describe('marks of points', () => {
  const point = (tags: Record<string, string>) => ({
    measurement: 'mark',
    tags,
    fields: [{ key: 'action', type: 'string', value: 'retighten' }] as const,
    timeNs: '1767225600000000000',
  })

  it('loggersOwn(a mark that names the operator) is of the logger, in the point and in the line', () => {
    expect(loggersOwn(point({ kind: 'work', from: 'operator' }))).toEqual({
      point: point({ kind: 'work', from: 'logger' }),
      line: 'mark,kind=work,from=logger action="retighten" 1767225600000000000',
    })
  })

  it('loggersOwn(what line protocol reads and cannot write) is null, other errors are thrown', () => {
    expect(loggersOwn(point({ kind: 'work\\' }))).toBeNull()
    const broken = { ...point({}), fields: null as never }
    expect(() => loggersOwn(broken)).toThrow(TypeError)
  })

  it.each([
    ['operator', { from: 'operator' }],
    ['device', { from: 'device' }],
    ['logger', { from: 'logger' }],
    ['somebody', {}],
  ])('markFromPoint(from=%s) keeps a known maker only', (from, kept) => {
    const { fields: _, ...mark } = markFromPoint(point({ kind: 'work', from }), 0n)!
    expect(mark).toEqual({
      timeNs: '1767225600000000000',
      timeS: 1_767_225_600,
      kind: 'work',
      id: null,
      hold: null,
      ...kept,
    })
  })

  it('markFromPoint(an integer beyond 2^53) keeps it as text', () => {
    const fields = [9_007_199_254_740_991n, 9_007_199_254_740_993n].map((value, n) => ({
      key: `f${n}`,
      type: 'integer' as const,
      value,
    }))
    expect(markFromPoint({ ...point({ kind: 'note' }), fields }, 0n)?.fields).toEqual({
      f0: 9_007_199_254_740_991,
      f1: '9007199254740993',
    })
  })
})

describe('readRecording(…) says word for word', () => {
  const messages = (text: string, against = system) =>
    readRecording(text, against, 'a.lp').problems.map(
      ({ code, line: at, message }) => `${code} ${at}: ${message}`,
    )
  it.each([
    [samples, 'no-header 1: the first line is not "# stillhold recording 1"; read as plain line protocol'],
    [
      `${header}${samples}mark,kind=party x=1 ${ns(3)}\n`,
      'unknown-mark 5: a mark of the unknown kind "party" is not used',
    ],
    [
      `${header}${line(0)}${line(1)}${line(0.5)}`,
      ...['p-left', 't-left', 'baro'].map(
        (id) => `out-of-order null: channel ${id}: 1 samples came out of order and were sorted by their time`,
      ),
    ],
    [
      `${header}${samples}mark,kind=zero,id=p-left reading="0.1 psi" ${ns(1)}\n`,
      'zero-applied null: channel p-left: the capture at 1.0 s corrects the readings from there on',
    ],
    [
      `${header}${samples}mark,kind=zero,id=p-left reading="2 psi" ${ns(1)}\n`,
      'zero-ignored null: channel p-left: the capture at 1.0 s would move the readings by more than 5 % of the span and is not applied',
    ],
    [
      `${header}${samples}mark,kind=zero,id=p-left reading=true ${ns(1)}\n`,
      'zero-ignored null: channel p-left: the capture at 1.0 s needs a reading and a true value, in SI or with a unit',
    ],
    [
      `${header}${samples}mark,kind=stage name="hold" ${ns(0)}\nmark,kind=zero,id=p-left reading="0.1 psi" ${ns(1)}\n`,
      'zero-ignored null: channel p-left: the capture at 1.0 s was made during a hold and is not applied',
    ],
    [
      `${header}${samples}${['0', '10'].map((psi, n) => `mark,kind=zero,id=p-left reading="${n * 11.3 + 0.02} psi",true="${psi} psi" ${ns(n)}\n`).join('')}`,
      'zero-applied null: channel p-left: the capture at 0.0 s corrects the readings from there on',
      'zero-ignored null: channel p-left: the capture at 1.0 s would change the gain by more than 10 % and is not applied',
    ],
  ])('%#', (text, ...said) => {
    expect(messages(text)).toEqual(said)
  })

  it('that a calibration is overdue, where the gauge was not placed and how many lines its scale cannot read', () => {
    const due = contractSystem.replace('date: 2026-03-02,', 'date: 2025-03-02, due: 2025-12-31,')
    expect(messages(header + samples, systemFromFile(due, 'plane.yaml'))).toEqual([
      'calibration-overdue null: channel p-left: its calibration was due on 2025-12-31, before this recording of 2026-01-01',
    ])
  })

  it.each([
    [
      '# stillhold recording 2 \n',
      'a.lp, line 1: "# stillhold recording 2" is not read by this program, which reads version 1',
    ],
    ['\nbad\n', 'a.lp, line 2: no line is line protocol; column 4: expected a space and a field'],
    ['', 'a.lp: is empty'],
  ])('why %j is no recording', (text, message) => {
    expect(() => readRecording(text, system, 'a.lp')).toThrow(
      new UnreadableFile('a.lp', null, '').constructor as never,
    )
    expect(() => readRecording(text, system, 'a.lp')).toThrow(
      expect.objectContaining({ message, name: 'UnreadableFile' }),
    )
  })

  it('and reads an empty recording: its header makes it one, though no line is a point', () => {
    const { rejectedLines, startNs, marks } = readRecording(`${header}bad\n`, system, 'a.lp')
    expect([rejectedLines, startNs, marks]).toEqual([1, '0', []])
  })
})

it('readRecording(…, asRead) leaves the captures of zero to the caller', () => {
  const text = `${header}mark,kind=zero,id=p-left reading="0.1 psi" ${ns(0)}\n${samples}`
  const plain = readRecording(header + samples, system, 'a.lp').channels[0].reading
  const asRead = readRecording(text, system, 'a.lp', { asRead: true })
  expect([asRead.problems, asRead.channels[0].reading]).toEqual([[], plain])
  expect(readRecording(text, system, 'a.lp').channels[0].reading[0]).toBeLessThan(plain[0])
})

// psi, degC: NIST SP 811; the other factors are powers of ten.
it.each([
  ['gauge-pressure', 'kPa', 2, 2000],
  ['absolute-pressure', 'bar', 1, 100_000],
  ['barometric-pressure', 'hPa', 1013, 101_300],
  ['reference-pressure', 'mbar', 5, 500],
  ['temperature', 'degC', 20, 293.15],
  ['fuel-flow', 'L/min', 60, 0.001],
  ['level-sender', 'ohm', 240, 240],
] as const)('scaleColumn(a %s of %s) gives SI in place: %f is %f', (measures, unit, value, si) => {
  const channel = { ...system.channels[0], measures, unit, scale: null }
  const given = { timeS: Float64Array.of(0), values: Float64Array.of(value) }
  const scaled = scaleColumn(channel, given, null)
  expect([scaled.values === given.values, scaled.timeS === given.timeS, scaled.left]).toEqual([true, true, 0])
  expect(scaled.values[0]).toBeCloseTo(si, 9)
  expect(() => scaleColumn({ ...channel, unit: 'furlong', measures: 'temperature' }, given, null)).toThrow(
    `channel ${channel.id}: unit furlong was not checked`,
  )
})

it.each([
  ['m f=1 1767225600000000000', true],
  ['m f=1 8999999999999999999 \t', true],
  ['m f=1 9767225600000000000', false],
  ['m f=1 0767225600000000000', false],
  ['m f=1 176722560000000000', false],
  ['m f=1 17672256000000000000', false],
  ['m f=1767225600000000000', false],
  [' # comment', true],
  ['  ', true],
  ['m # 1', false],
])('isWholeLine(%j) is %s', (text, whole) => {
  expect(isWholeLine(text)).toBe(whole)
})

it.each([
  [5, 1],
  [5.001, 0],
])('scaleColumn(a supply read %f s before) uses %i of the readings', (ageS, used) => {
  const ratiometric = systemFromFile(
    'stillhold: 1\nname: x\nsections:\n  - { id: s, medium: air, volume: 1 L }\nchannels:\n  - { id: p, measures: gauge-pressure, section: s, from: { measurement: logger, field: v }, scale: { ratiometric: [[10 %, 0 psi], [90 %, 30 psi]], rail: { field: vcc } } }\n',
    'plane.yaml',
  ).channels[0]
  const one = (timeS: number, value: number) => ({
    timeS: Float64Array.of(timeS),
    values: Float64Array.of(value),
  })
  const { timeS, left } = scaleColumn(ratiometric, one(ageS, 2.5), one(0, 5))
  expect([timeS.length, left]).toEqual([used, 1 - used])
})
