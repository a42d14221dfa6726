import { describe, expect, it } from 'vitest'
import { worstVerdict } from '#analysis/model/hold-result.ts'
import type { ChannelOrigin } from '#analysis/model/origin.ts'
import { ArchiveError, diskError } from '#dashboard/archive/archive-error.ts'
import { canonicalText } from '#dashboard/archive/canonical-text.ts'
import { headFinding, headState, readHead, signHead } from '#dashboard/archive/chain-head.ts'
import { checkRecord } from '#dashboard/archive/check-record.ts'
import { firstDifference, holdDifference } from '#dashboard/archive/compare-results.ts'
import { der, readDer } from '#dashboard/archive/der.ts'
import { broken, holds, note, verifyReport, worstExitCode } from '#dashboard/archive/finding.ts'
import { checkPdfSeal, sealPdf } from '#dashboard/archive/pdf-file.ts'
import { fingerprintWords } from '#dashboard/archive/read-chain.ts'
import { readRecord } from '#dashboard/archive/read-record.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import {
  clockFaults,
  matchesText,
  originWords,
  recordSections,
  recordSubject,
  recordVerdict,
} from '#dashboard/archive/record-words.ts'
import { sealRecord } from '#dashboard/archive/seal-record.ts'
import { makeSigningKey } from '#dashboard/archive/signing-key.ts'
import { sha256Hex } from '#dashboard/archive/write-durably.ts'
import { emptyFolder, holdDraft } from './bench-archive.ts'

const key = makeSigningKey(emptyFolder())
const other = makeSigningKey(emptyFolder())
const bytes = new Uint8Array([1, 2, 3])
const hash = sha256Hex(bytes)
const at = new Date('2026-04-11T09:00:00Z')
const kept = {
  recording: { name: 'a.lp', sha256: hash, bytes: 3 },
  photos: [{ name: 'b.jpg', sha256: hash, bytes: 3 }],
}
const sealed = (draft: object = {}, files: object = {}) =>
  sealRecord(
    holdDraft(null, draft),
    { ...kept, ...files },
    { sequence: 0, sha256: null },
    key,
    '0.0.0-test',
    at,
  )
const hold = sealed().record

describe('headState(count and hash of the last record, signed)', () => {
  const record = (n: number) => ({ sha256: String(n).repeat(64), record: hold })
  const three = [1, 2, 3].map(record)
  const head = (count: number, last: string | null, by = key) => signHead(count, last, at, by)
  it.each([
    ['all', head(3, three[2].sha256), three, 'fits'],
    ['one sealed after it', head(2, three[1].sha256), three, 'lags'],
    [
      'two sealed after it',
      head(1, three[0].sha256),
      three,
      /its signed count of .* is 1: an older copy was restored/,
    ],
    [
      'one missing',
      head(3, three[2].sha256),
      three.slice(0, 2),
      /^1 of 3 records are missing: its count was signed 2026/,
    ],
    [
      'another last one',
      head(3, three[0].sha256),
      three,
      /^record 3 is not the one whose hash was signed as the last/,
    ],
    ['another before the newest', head(2, three[0].sha256), three, /^record 2 is not the one/],
    ['none', head(0, null), [], 'fits'],
    ['the first sealed after it', head(0, null), three.slice(0, 1), 'lags'],
    ['another key', head(3, three[2].sha256, other), three, /signed with another key/],
    [
      'a changed count',
      head(3, three[2].sha256).replace('"count":3', '"count":2'),
      three,
      /head\.json, was changed/,
    ],
    ['no JSON', '{', three, /head\.json, was changed/],
    ['no head', null, three, /head\.json, is missing/],
    ['no head of an unreadable record', null, [{ sha256: '', record: null }], /head\.json, is missing/],
    [
      'no head of version 0.1',
      null,
      [{ sha256: '', record: { ...hold, stillhold_record: 1 as const } }],
      'never-signed',
    ],
    ['no head and no record', null, [], 'never-signed'],
  ])('of a chain with %s', (_, text, records, wanted) => {
    const state = headState(text, records as never, key.public.base64)
    if (typeof wanted === 'string') expect(state).toBe(wanted)
    else expect((state as { broken: string }).broken).toMatch(wanted)
    const finding = headFinding('chain', state, text)
    expect(finding.state).toBe(typeof wanted !== 'string' ? 'broken' : wanted === 'fits' ? 'holds' : 'note')
  })
  it('readHead() takes the canonical text only: a space more is a change', () => {
    expect(readHead(head(1, null))?.count).toBe(1)
    expect([readHead(`${head(1, null)} `), readHead(head(1, null).replace(',', ', '))]).toEqual([null, null])
  })
})

describe('checkRecord()', () => {
  const analysis = (verdict: string) => ({ result: { ...hold.result, verdict } })
  const check = (record: SealedRecord, found: Uint8Array | null, more: object = {}) =>
    checkRecord(record, () => found, {
      programVersion: '0.0.0-test',
      recompute: () => ({ analysis: analysis('pass'), why: null, corrected: null }) as never,
      ...more,
    })
  const brokenOf = ({ findings }: ReturnType<typeof check>) =>
    findings.filter(({ state }) => state === 'broken').map(({ text }) => text)

  it.each([
    ['all there', hold, bytes, {}, 'pass', []],
    ['files elsewhere', hold, null, {}, 'void', []],
    [
      'files gone from an archive',
      hold,
      null,
      { isWhole: true },
      'void',
      [/^recording a\.lp is not available/, /^photo b\.jpg is missing/],
    ],
    [
      'files changed',
      hold,
      new Uint8Array([1, 2, 4]),
      {},
      'void',
      [/^recording a\.lp was changed/, /^photo b\.jpg was changed/],
    ],
    [
      'no recording',
      sealed({}, { recording: null }).record,
      bytes,
      {},
      'void',
      [/a hold without a recording/],
    ],
    [
      'a wrong length',
      sealed({}, { recording: { ...kept.recording, bytes: 2 } }).record,
      bytes,
      {},
      'void',
      [/^recording a\.lp was changed/],
    ],
    ['a changed note', { ...hold, note: 'x' }, bytes, {}, 'void', [/^signature of the record does not hold/]],
    [
      'a worse verdict computed',
      hold,
      bytes,
      { recompute: () => ({ analysis: analysis('fail'), corrected: null }) },
      'fail',
      [],
    ],
    [
      'a better verdict computed',
      sealed({ result: { ...hold.result, verdict: 'fail' } }).record,
      bytes,
      {},
      'fail',
      [],
    ],
    [
      'no analysis',
      hold,
      bytes,
      { recompute: () => ({ analysis: null, why: 'no hold' }) },
      'void',
      [/cannot be recomputed: no hold/],
    ],
    [
      'an analysis that fails',
      hold,
      bytes,
      {
        recompute: () => {
          throw new Error('out of memory')
        },
      },
      'void',
      [/^verdict cannot be recomputed: out of memory/],
    ],
    [
      'a mark taken back',
      hold,
      bytes,
      {
        recompute: () => ({
          analysis: analysis('pass'),
          corrected: { by: ['0002-x'], verdict: 'undecided' },
        }),
      },
      'undecided',
      [],
    ],
  ])('of a hold with %s', (_, record, found, more, verdict, wanted) => {
    const checked = check(record, found, more)
    expect(checked.verdict).toBe(verdict)
    expect(brokenOf(checked)).toEqual(wanted.map((text) => expect.stringMatching(text)))
  })
  it('says what held, in its order', () => {
    expect(check(hold, bytes).findings.map(({ state, text }) => `${state}: ${text}`)).toEqual([
      `holds: signature of the record, by key ${fingerprintWords(key.public.base64)}`,
      'holds: recording a.lp, 3 bytes as sealed',
      'holds: photo b.jpg, as sealed',
      'holds: readings: serial port /dev/ttyUSB0 (p-left)',
      'holds: verdict recomputed from the recording: pass, every figure as sealed',
    ])
    expect(fingerprintWords('nonsense')).toBe('(not a key)')
  })
})

it.each([
  ['2026-04-11T09:00:59Z', [], null, 0],
  ['2026-04-11T09:01:01Z', [], null, 1],
  [null, ['2026-04-11T09:00:59Z'], null, 0],
  [null, ['2026-04-11T08:00:00Z', '2026-04-11T09:01:01Z'], null, 1],
  // A date of calibration is a day.
  [null, [], '2026-04-12', 0],
  [null, [], '2026-04-13', 1],
])('clockFaults(record before %s, stages %j, calibrated %s) has %i', (before, stages, date, count) => {
  const ns = (time: string) => String(BigInt(Date.parse(time)) * 1_000_000n)
  const result = { stages: Object.fromEntries(stages.map((time, n) => [`s${n}`, ns(time)])), source: 'marks' }
  const system =
    date === null ? null : ({ channels: [{ calibration: { date } }, { calibration: null }] } as never)
  const earlier = before === null ? null : { id: '0001-a', sealed_at: before }
  expect(clockFaults(at.toISOString(), result as never, system, earlier)).toHaveLength(count)
})

describe('DER (ITU-T X.690, 8.1.3: lengths up to 127 in one byte, longer ones with their count of bytes)', () => {
  it.each([
    [0, '0400'],
    [127, '047f'],
    [128, '048180'],
    [255, '0481ff'],
    [256, '04820100'],
    [65_536, '0483010000'],
  ])('der(%i bytes) begins with %s, and readDer() reads it back', (length, start) => {
    const body = Buffer.alloc(length, 7)
    const raw = der(4, body)
    expect([raw.subarray(0, start.length / 2).toString('hex'), raw.length]).toEqual([
      start,
      start.length / 2 + length,
    ])
    expect(readDer(Buffer.concat([raw, raw]))).toEqual([
      { tag: 4, body, raw },
      { tag: 4, body, raw },
    ])
  })
  it.each(['0480', '04850000000001ff', '040201', '04', '048201'])(
    'readDer(%s) throws a RangeError',
    (hex) => {
      expect(() => readDer(Buffer.from(hex, 'hex'))).toThrow(RangeError)
    },
  )
})

it.each([
  [[0], 0],
  [[], 0],
  [[0, 11], 11],
  [[11, 12], 12],
  [[12, 10, 0], 10],
  [[10, 13], 13],
])(
  'worstExitCode(%j) is %i: fail > void > undecided > pass, broken evidence first (contract, sections 4 and 6)',
  (codes, worst) => {
    expect(worstExitCode(codes)).toBe(worst)
  },
)

it('verifyReport() of nothing proves nothing, and a broken finding outranks the verdicts', () => {
  const report = (findings: ReturnType<typeof note>[], verdicts: ('pass' | 'fail' | null)[]) =>
    verifyReport({
      ...{ file: 'a', kind: 'archive', findings, links: [] },
      records: verdicts.map((verdict) => ({
        id: 'a',
        kind: 'hold',
        sealed: null,
        recomputed: null,
        verdict,
        findings: [],
      })),
    }).exit_code
  expect([
    report([], []),
    report([note('a')], ['pass', null]),
    report([holds('a')], ['pass', 'fail']),
  ]).toEqual([12, 0, 10])
  expect([report([broken('a')], ['pass']), report([broken('a')], [])]).toEqual([13, 13])
  expect([worstVerdict([null, 'pass', 'void']), worstVerdict([null])]).toEqual(['void', null])
})

it.each([
  [1 + 0.8e-6, true],
  [1 + 1.2e-6, false],
  [1 - 0.8e-6, true],
  [1 - 1.2e-6, false],
])(
  'a figure %f times the sealed one is the same: %s (1e-6: rounding of another processor)',
  (factor, same) => {
    const result = hold.result as never as { seconds: number }
    const now = { ...result, seconds: result.seconds * factor }
    expect(holdDifference(result as never, now as never) === null).toBe(same)
    expect(firstDifference({ a: [{ b: 7 }] }, { a: [{ b: 7 * factor }] }) === null).toBe(same)
  },
)

it.each([
  [{ a: 1 }, {}, 'a sealed as 1, computed now as none'],
  [{}, { a: [1] }, 'a sealed as none, computed now as a list'],
  [{ a: { b: 'x' } }, { a: { b: 'y' } }, 'a b sealed as x, computed now as y'],
  [{ a: null }, { a: 0 }, 'a sealed as null, computed now as 0'],
  [{ message: 'x', text: 'x', source: 'x' }, {}, null],
])('firstDifference(%j, %j) is %j', (a, b, words) => {
  expect(firstDifference(a, b)).toBe(words)
})

it.each([
  ['serial', true, 'serial port'],
  ['tcp', true, 'network, TCP'],
  ['http', true, 'network, HTTP'],
  ['mqtt', true, 'network, MQTT'],
  ['replay', false, 'REPLAYED from a recording'],
  ['import', false, 'IMPORTED from a file'],
  ['typed', false, 'typed by hand'],
  ['demo', false, 'SIMULATED by the demo: no aircraft was tested'],
] as const)('originWords(%s) is measured at a bench: %s', (kind, isMeasured, text) => {
  const origin = (channel: string, more = {}): ChannelOrigin => ({
    channel,
    kind,
    name: null,
    sha256: null,
    ...more,
  })
  const of = (...origins: ChannelOrigin[]) => originWords({ ...hold, origins })
  expect(of(origin('p'), origin('t'))).toEqual({ text: `${text} (p, t)`, isMeasured })
  const named = origin('t', { name: 'x', sha256: hash })
  expect(of(origin('p'), named)?.text).toBe(`${text} (p); ${text} x, SHA-256 ${hash.slice(0, 16)}… (t)`)
  const serial = { channel: 'b', kind: 'serial', name: null, sha256: null } as const
  expect(of(serial, origin('p'))?.isMeasured).toBe(isMeasured)
})

it('originWords(a record that keeps none) says so, and nothing of evidence without readings', () => {
  expect(originWords({ ...hold, origins: [] })).toEqual({ text: 'not known', isMeasured: false })
  expect(originWords({ ...hold, origins: null, recording: null })).toBeNull()
  expect(originWords({ ...hold, stillhold_record: 1 })?.text).toMatch(
    /^not recorded, as in every record of version 0\.1/,
  )
})

describe('checkPdfSeal()', () => {
  const pdf = Buffer.from('%PDF-1.7\nbody\nstartxref\n9\n%%EOF\n')
  const text = Buffer.from(sealPdf(pdf, key)).toString('latin1')
  it.each([
    ['as sealed', text, 'holds'],
    ['without a seal', pdf.toString(), 'none'],
    ['a byte changed', text.replace('body', 'bodi'), 'broken'],
    ['a byte added at the end', `${text} `, 'broken'],
    [
      'the seal moved',
      `${text.replace(/% stillhold-seal .*\n/, '')}${/% stillhold-seal .*\n/.exec(text)?.[0]}`,
      'broken',
    ],
    ['a word behind the signature', text.replace(/(stillhold-seal .*)\n/, '$1 x\n'), 'broken'],
    ['another key named', text.replace(key.public.base64, other.public.base64), 'broken'],
  ])('of a report %s', (_, changed, state) => {
    const checked = checkPdfSeal(Buffer.from(changed, 'latin1'))
    expect(checked.state).toBe(state)
    if (state === 'holds')
      expect([checked.publicKey, Buffer.from(checked.unsealed)]).toEqual([key.public.base64, pdf])
  })
  it('sealPdf() of no PDF throws a RangeError', () => {
    expect(() => sealPdf(bytes, key)).toThrow('not a PDF: it has no startxref')
  })
})

describe('readRecord()', () => {
  const own = sealed().text
  it('takes what was sealed', () => {
    expect(readRecord(own).record).toEqual(hold)
  })
  it.each([
    ['{', /^not JSON/],
    ['[]', /^stillhold_record: /],
    ['null', /^record: /],
    [own.replace('"A. B."', '"\\ud800"'), /^\$\.operator has half of a surrogate pair/],
    [
      own.replace('"stillhold_record":2', '"stillhold_record":3'),
      /^record format 3 is newer than this program; update it$/,
    ],
    [own.replace('"sequence":1', '"sequence":0'), /^sequence: /],
    [own.replace('"id":"0001-', '"id":"1-'), /^id: must be a number and a name/],
    [own.replace(hash, 'x'), /^photos\.0\.sha256: must be 64 hex digits/],
    [own.replace('"kind":"hold"', '"kind":"held"'), /^kind: /],
    [own.replace('"kind":"serial"', '"kind":"guess"'), /^origins\.0\.kind: /],
    [own.replace('{', '{"a":1,'), /^a: /],
    [own.replace(',', ', '), /^not in canonical form: its bytes were changed/],
    [`${own}\n`, /^not in canonical form/],
  ])('refuses %#, with its reason', (text, message) => {
    const { record, error } = readRecord(text)
    expect([record, error]).toEqual([null, expect.stringMatching(message)])
  })
  it('knows what version 1 had: no origins, no looks', () => {
    const { origins: _, ...first } = JSON.parse(own)
    expect(readRecord(canonicalText({ ...first, stillhold_record: 1 })).error).toBeNull()
    expect(readRecord(canonicalText({ ...first, stillhold_record: 1, kind: 'look' })).error).toMatch(
      /^kind: /,
    )
    expect(readRecord(canonicalText(first)).error).toMatch(/^origins: /)
  })
})

it.each([
  ['ENOSPC', 'the disk is full; free some space and try again'],
  ['EDQUOT', 'the disk quota is used up; free some space and try again'],
  ['EACCES', 'no permission; choose a folder you may write to with --data'],
  ['EPERM', 'no permission; choose a folder you may write to with --data'],
  ['EROFS', 'the disk is read-only; choose another folder with --data'],
  ['ENOENT', 'it does not exist; check the path'],
  ['EEXIST', 'a file has the name of this folder; move it away'],
  ['EISDIR', 'it is a folder; name a file'],
  ['ENOTDIR', 'a part of the path is a file; check the path'],
  ['EIO', 'the disk reports an error; copy the archive elsewhere and check the disk'],
  ['SQLITE_CANTOPEN', 'it cannot be opened; check that it is a file and who owns it'],
  ['EOTHER', 'as it says'],
])('diskError(%s) says what failed, where and what to do', (code, hint) => {
  const cause = Object.assign(new Error('as it says'), { code })
  const error = diskError('write', '/a', cause)
  expect(error).toBeInstanceOf(ArchiveError)
  expect(error).toMatchObject({ code: 'disk', path: '/a', message: `cannot write /a: ${hint}`, cause })
})

it('subject, sections and verdict of a record are those of its result', () => {
  const of = (result: object) => ({ kind: 'work', result }) as never
  const keys = ['hold', 'subject', 'id', 'fitting', 'plug', 'channel', 'section']
  for (const [n, name] of keys.entries())
    expect(recordSubject(of(Object.fromEntries(keys.slice(n).map((each) => [each, `the ${each}`]))))).toBe(
      `the ${name}`,
    )
  expect([recordSubject(of({ id: '' })), recordSubject(of({ id: 1 }))]).toEqual(['work', 'work'])
  expect(recordSections(of({ sections: ['a', 1], section: 'b' }))).toEqual(['a'])
  expect([recordSections(of({ section: 'b' })), recordSections(of({}))]).toEqual([['b'], []])
  expect([recordVerdict(of({ verdict: 'fail' })), recordVerdict(of({ verdict: 'toString' }))]).toEqual([
    'fail',
    null,
  ])
})

it.each([
  ['a. b.', true],
  ['LEFT-feed f07', true],
  ['left f08', false],
  ['below the allowance', true],
  ['high-wing', true],
  ['a.lp', true],
  ['', true],
])('matchesText(hold, %j) is %s', (query, matches) => {
  expect(matchesText(hold, query)).toBe(matches)
})
