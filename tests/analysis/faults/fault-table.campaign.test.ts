import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import {
  type PlainHold,
  type PlainKind,
  type PlainRow,
  plainHold,
  plainKinds,
  plainText,
} from '#tests/analysis/fit/plain-bench.ts'

/** What one fault makes of a hold: other rows, other marks, or other text. */
type Fault = (hold: PlainHold, kind: PlainKind) => PlainHold | string

type Row = readonly [what: string, fault: Fault, codes: readonly string[]]

const system = systemFromFile(plainHold('line').system, 'left-side.yaml')

function resultsOf(kind: PlainKind, leak: number, fault: Fault): readonly HoldResult[] {
  const told = fault(plainHold(kind, { leak, seed: 3 }), kind)
  const text = typeof told === 'string' ? told : plainText(told, kind)
  return analyzeRecording(readRecording(text, system, 'bench.lp'), system).map(({ result }) => result)
}

const rows = (hold: PlainHold, change: (row: PlainRow, i: number) => PlainRow | null): PlainHold => ({
  ...hold,
  rows: hold.rows.map(change).filter((row) => row !== null),
})
const gauge = (hold: PlainHold, read: (psi: number, timeS: number, i: number) => number | null): PlainHold =>
  rows(hold, (row, i) => ({ ...row, psi: read(row.psi ?? 0, row.timeS, i) }))
const thermometer = (hold: PlainHold, read: (degC: number, timeS: number) => number | null): PlainHold =>
  rows(hold, (row) => ({ ...row, degC: read(row.degC ?? 0, row.timeS) }))
const at = (hold: PlainHold, timeS: number): PlainRow => hold.rows.find((row) => row.timeS >= timeS)!
/** A moment of the hold by its share. */
const into = ({ times }: PlainHold, share: number): number =>
  times.holdS + share * (times.ventS - times.holdS)
const noise = (i: number, kind: PlainKind): number =>
  1e-4 * plainKinds[kind].rangePsi * (((i * 7919) % 23) / 8 - 1.375)
const hangs = (hold: PlainHold, fromS: number, toS = Number.POSITIVE_INFINITY): PlainHold => {
  const stuck = at(hold, fromS).psi
  return gauge(hold, (psi, timeS) => (timeS >= fromS && timeS < toS ? stuck : psi))
}
/** The gauge reads the gas of its own hose, shut off from the section. */
const shutOff = (
  hold: PlainHold,
  kind: PlainKind,
  fromS: number,
  toS = Number.POSITIVE_INFINITY,
): PlainHold => {
  const atPsi = ({ hPa }: PlainRow): number => ((hPa ?? 0) * 100) / 6894.757
  const then = at(hold, fromS)
  return gauge(hold, (psi, timeS, i) => {
    if (timeS < fromS || timeS >= toS) return psi
    const now = hold.rows[i]
    const warmth = ((now.degC ?? 0) + 273.15) / ((then.degC ?? 0) + 273.15)
    return ((then.psi ?? 0) + atPsi(then)) * warmth - atPsi(now) + noise(i, kind)
  })
}
const marked = (hold: PlainHold, timeS: number, text: string): PlainHold => ({
  ...hold,
  marks: [...hold.marks, { timeS, text }].sort((a, b) => a.timeS - b.timeS),
})
/** The clock of everything is set at one moment. */
const clockSet = (hold: PlainHold, fromS: number, byS: number): PlainHold => {
  const shifted = <T extends { timeS: number }>(each: T): T =>
    each.timeS > fromS ? { ...each, timeS: each.timeS + byS } : each
  return { ...hold, rows: hold.rows.map(shifted), marks: hold.marks.map(shifted) }
}
const silent = (hold: PlainHold, fromS: number, toS: number): PlainHold =>
  rows(hold, (row) => (row.timeS > fromS && row.timeS < toS ? null : row))
const lines = (hold: PlainHold, kind: PlainKind): string[] => plainText(hold, kind).trimEnd().split('\n')
const own = (kind: PlainKind): string => (kind === 'line' ? 'F01' : 'F03')
const others = (kind: PlainKind): string => (kind === 'line' ? 'F03' : 'F01')

/** Void whatever leaks. */
const broken: readonly Row[] = [
  ['gauge: one reading throughout', (h) => gauge(h, () => 0.0123), ['gauge-stuck', 'no-pump-up-response']],
  ['gauge: hangs from the settle on', (h) => hangs(h, h.times.settleS + 60), ['gauge-stuck']],
  ['gauge: hangs from the hold to the vent', (h) => hangs(h, into(h, 0.1), h.times.ventS), ['gauge-stuck']],
  [
    'gauge: unplugged in the hold, reads zero',
    (h) => gauge(h, (p, t) => (t > into(h, 0.4) ? 0 : p)),
    ['gauge-stuck'],
  ],
  [
    'gauge: unplugged in the hold, full scale',
    (h, kind) => gauge(h, (p, t) => (t > into(h, 0.4) ? plainKinds[kind].rangePsi : p)),
    ['clipped'],
  ],
  [
    'gauge: unplugged in the hold, noise about zero',
    (h, kind) => gauge(h, (p, t, i) => (t > into(h, 0.4) ? noise(i, kind) : p)),
    ['let-off-during-hold'],
  ],
  [
    'gauge: unplugged in the hold, its field missing',
    (h) => gauge(h, (p, t) => (t > into(h, 0.4) ? null : p)),
    ['samples-missing'],
  ],
  [
    'gauge: at the lower end of its span throughout',
    (h, kind) => gauge(h, () => -plainKinds[kind].rangePsi / 10),
    ['clipped'],
  ],
  [
    'gauge: over its span in the hold',
    (h, kind) => gauge(h, (p) => Math.min(plainKinds[kind].rangePsi, 3.2 * p)),
    ['clipped'],
  ],
  ['cock: shut before pump-up', (h, kind) => gauge(h, (_, __, i) => noise(i, kind)), ['no-pump-up-response']],
  ['cock: shut in the settle', (h, kind) => shutOff(h, kind, h.times.settleS + 100), ['no-vent-response']],
  ['cock: shut in the hold', (h, kind) => shutOff(h, kind, into(h, 0.4)), ['no-vent-response']],
  [
    "channel: another section's gauge rises",
    (h, kind) =>
      plainText(h, kind).replace(
        /^logger p(\d)=([-\d.]+)/gm,
        (_, n, psi) => `logger p${n === '1' ? 2 : 1}=${psi},p${n}=${Number(psi) % 0.01}`,
      ),
    ['wrong-channel'],
  ],
  [
    'channel: two series under it',
    (h, kind) =>
      plainText(h, kind).replace(/^(logger )(p\d)(=.*) (\d+)$/gm, '$1$2$3 $4\nlogger,port=b $2=0.01 $4'),
    ['readings-mixed'],
  ],
  ['clock: set back 60 s in the hold', (h) => clockSet(h, into(h, 0.3), -60), ['clock-jumped']],
  ['clock: set back an hour in the hold', (h) => clockSet(h, into(h, 0.3), -3600), ['clock-jumped']],
  ['clock: set forward an hour in the hold', (h) => clockSet(h, into(h, 0.3), 3600), ['samples-missing']],
  ['clock: marked as set', (h) => marked(h, into(h, 0.3), 'kind=clock jump_s=3.2'), ['clock-jumped']],
  ['gap: four tenths of the hold', (h) => silent(h, into(h, 0.2), into(h, 0.6)), ['samples-missing']],
  ['gap: up to the vent', (h) => silent(h, into(h, 0.85), h.times.ventS), ['samples-missing']],
  ['samples: one in a hundred', (h) => rows(h, (r, i) => (i % 100 === 0 ? r : null)), ['too-few-samples']],
  ['pressure: three fifths of the stated', (h) => gauge(h, (p) => 0.6 * p), ['pressure-not-reached']],
  [
    'pressure: rose by more than the leak',
    (h, kind) =>
      gauge(h, (p, t) =>
        t > h.times.settleS && t < h.times.ventS
          ? p + (4 * plainKinds[kind].dropPsi * (t - h.times.settleS)) / plainKinds[kind].statedHoldS
          : p,
      ),
    ['pressure-rose'],
  ],
  [
    'work: on a fitting of the section',
    (h, kind) => marked(h, into(h, 0.3), `kind=work,id=${own(kind)} action="retighten",torque_Nm=14.1`),
    ['work-during-hold'],
  ],
  [
    'work: on a fitting that the file does not have',
    (h) => marked(h, into(h, 0.3), 'kind=work,id=F99 action="remake"'),
    ['work-during-hold'],
  ],
  [
    'valve: opened in the hold',
    (h) => marked(h, into(h, 0.3), 'kind=valve,id=V1 open=true'),
    ['valve-moved'],
  ],
  [
    'valve: an unknown one opened',
    (h) => marked(h, into(h, 0.3), 'kind=valve,id=V9 open=true'),
    ['valve-moved'],
  ],
  [
    'valve: shut only in the hold',
    (h) => marked(h, into(h, 0.3), 'kind=valve,id=V1 open=false'),
    ['valve-moved'],
  ],
  [
    'valve: open since the settle',
    (h) => marked(h, h.times.settleS + 9, 'kind=valve,id=V1 open=true'),
    ['valve-open'],
  ],
  [
    'vent: the gauge does not fall',
    (h, kind) =>
      gauge(h, (p, t, i) => (t < h.times.ventS ? p : (at(h, h.times.ventS - 2).psi ?? 0) + noise(i, kind))),
    ['no-vent-response'],
  ],
]

/** Nothing passes; a leak that shows all the same may fail. */
const unproven: readonly Row[] = [
  [
    'gauge: goes dead at the vent',
    (h) => gauge(h, (p, t) => (t > h.times.ventS - 10 ? 0 : p)),
    ['vent-not-recorded'],
  ],
  [
    'cock: shut in the hold, opened before the vent',
    (h, kind) => shutOff(h, kind, h.times.settleS + 60, h.times.ventS - 20),
    ['pressure-stepped'],
  ],
  ['thermometer: none', (h) => thermometer(h, () => null), ['no-temperature']],
  ['thermometer: reads what air cannot have', (h) => thermometer(h, () => -127), ['no-temperature']],
  [
    'thermometer: silent from the first third on',
    (h) => thermometer(h, (c, t) => (t > into(h, 0.3) ? null : c)),
    ['no-temperature'],
  ],
  ['thermometer: one reading throughout', (h) => thermometer(h, () => 20), ['thermometer-still']],
  [
    'thermometer: hangs from the second reading of the hold on',
    (h) => thermometer(h, (c, t) => (t > h.times.holdS ? 20.03 : c)),
    ['thermometer-still'],
  ],
  [
    'vent: not recorded',
    (h) => ({ ...silent(h, h.times.ventS - 1, 1e9), marks: h.marks.filter((m) => m.timeS < h.times.ventS) }),
    ['vent-not-recorded'],
  ],
  [
    'recording: ends in the middle of the hold',
    (h) => ({ ...silent(h, into(h, 0.5), 1e9), marks: h.marks.filter((m) => m.timeS < h.times.ventS) }),
    ['vent-not-recorded'],
  ],
  [
    'recording: a line that cannot be read',
    (h, kind) =>
      lines(h, kind)
        .map((line, i) => (i === 400 ? 'logger p1=,,' : line))
        .join('\n')
        .concat('\n'),
    ['recording-damaged'],
  ],
]

/** Changes nothing. */
const harmless: readonly Row[] = [
  ['nothing', (h) => h, []],
  ['gap: a sixtieth of the hold', (h) => silent(h, into(h, 0.2), into(h, 0.2) + 10), []],
  [
    'gauge: unplugged for a twentieth',
    (h) => gauge(h, (p, t) => (t > into(h, 0.4) && t < into(h, 0.45) ? null : p)),
    [],
  ],
  ['gauge: a zero that is off', (h, kind) => gauge(h, (p) => p + 0.01 * plainKinds[kind].rangePsi), []],
  [
    'gauge: spikes',
    (h, kind) => gauge(h, (p, _, i) => (i % 97 === 13 ? p + 0.2 * plainKinds[kind].psi : p)),
    [],
  ],
  [
    'work: on a fitting of another section',
    (h, kind) => marked(h, into(h, 0.3), `kind=work,id=${others(kind)} action="reseal"`),
    [],
  ],
  [
    'work: after the vent',
    (h, kind) => marked(h, h.times.ventS + 9, `kind=work,id=${own(kind)} action="reseal"`),
    [],
  ],
  [
    'work: under pressure, before the hold',
    (h, kind) => marked(h, h.times.settleS + 9, `kind=work,id=${own(kind)} action="retighten"`),
    ['work-under-pressure'],
  ],
  [
    'look and note in the hold',
    (h, kind) =>
      marked(
        marked(h, into(h, 0.3), `kind=look,id=${own(kind)} finding="dry"`),
        into(h, 0.4),
        'kind=note text="door, opened"',
      ),
    [],
  ],
  [
    'valve: shut before, opened at the vent',
    (h) =>
      marked(marked(h, 4, 'kind=valve,id=V1 open=false'), h.times.ventS + 2, 'kind=valve,id=V1 open=true'),
    [],
  ],
  ['samples: each line twice', (h, kind) => plainText(h, kind).replace(/^(logger .*)$/gm, '$1\n$1'), []],
  [
    'samples: a hundred lines sent again',
    (h, kind) => [...lines(h, kind).slice(0, 400), ...lines(h, kind).slice(300)].join('\n').concat('\n'),
    [],
  ],
  ['barometer: none', (h) => rows(h, (row) => ({ ...row, hPa: null })), []],
  ['barometer: reads zero', (h) => rows(h, (row) => ({ ...row, hPa: 0 })), ['barometer-implausible']],
  [
    'barometer: one reading throughout',
    (h) => rows(h, (row) => ({ ...row, hPa: 1010 })),
    ['barometer-still'],
  ],
  [
    'barometer: silent from the first third on',
    (h) => rows(h, (row) => ({ ...row, hPa: row.timeS > into(h, 0.3) ? null : row.hPa })),
    ['barometer-silent'],
  ],
  [
    'thermometer: one reading in fifteen',
    (h) => rows(h, (row, i) => (i % 15 === 0 ? row : { ...row, degC: null })),
    [],
  ],
  ['marks: none', (h) => ({ ...h, marks: [] }), []],
  [
    'marks: the hold named at its start alone',
    (h) => ({
      ...h,
      marks: h.marks.map((m) =>
        m.text.includes('"hold"') ? m : { ...m, text: m.text.replace(/,hold=\S*/, '') },
      ),
    }),
    [],
  ],
]

/** The same hold, written in another way. */
const writtenOtherwise: readonly (readonly [
  what: string,
  written: (hold: PlainHold, kind: PlainKind) => string,
])[] = [
  ['neighbours swapped', (h, kind) => joined(swapped(lines(h, kind)))],
  ['the newest first', (h, kind) => joined([lines(h, kind)[0], ...lines(h, kind).slice(1).reverse()])],
  ['eight lines late by forty', (h, kind) => joined(late(lines(h, kind)))],
  [
    'in no order at all',
    (h, kind) => joined([...lines(h, kind)].sort((a, b) => scrambled(a) - scrambled(b))),
  ],
  [
    'the marks at the end',
    (h, kind) =>
      joined([...lines(h, kind)].sort((a, b) => Number(a.startsWith('mark')) - Number(b.startsWith('mark')))),
  ],
  ['CRLF', (h, kind) => plainText(h, kind).replaceAll('\n', '\r\n')],
  [
    'remarks, and what was rejected on arrival',
    (h, kind) => plainText(h, kind).replace(/^(logger .*)$/gm, '# a remark\n$1\n#! not a number: p1=1O.01'),
  ],
  [
    'other measurements beside it',
    (h, kind) =>
      plainText(h, kind).replace(
        /^(logger .*) (\d+)$/gm,
        '$1 $2\nesp32,host=bench\\ top heap=123i,ok=true,s="a, b=1" $2',
      ),
  ],
  ['no header', (h, kind) => joined(lines(h, kind).slice(1))],
  ['no last line end', (h, kind) => plainText(h, kind).trimEnd()],
]

const joined = (text: readonly string[]): string => `${text.join('\n')}\n`

function late(text: string[]): string[] {
  const out = [...text]
  out.splice(340, 0, ...out.splice(300, 8))
  return out
}

/** An order that has nothing to do with the lines' times; the header stays first. */
function scrambled(line: string): number {
  if (line.startsWith('#')) return -1
  let hash = 7
  for (const letter of line) hash = (hash * 31 + letter.charCodeAt(0)) % 1_000_003
  return hash
}

function swapped(text: string[]): string[] {
  const out = [...text]
  for (let i = 5; i + 1 < out.length; i += 7) [out[i], out[i + 1]] = [out[i + 1], out[i]]
  return out
}

const told = (results: readonly HoldResult[]) =>
  results.flatMap(({ reasons }) => reasons.map(({ code }) => code))

/** Every third row plays a tank: both kinds meet every sort of fault, in a third of the time. */
const kindOf = (i: number): PlainKind => (i % 3 === 2 ? 'tank' : 'line')

describe('analyzeRecording(a hold that proves nothing; plain text and the gas law) is void', () => {
  it.each(broken.map((row, i) => [...row, kindOf(i)] as const))('%s', (_, fault, codes, kind) => {
    // A leak of twice the allowance: a pass would be the worst answer, a fail the next.
    const results = resultsOf(kind, 2, fault)
    expect(results.map(({ verdict }) => verdict)).toEqual(['void'])
    expect(told(results)).toEqual(expect.arrayContaining([...codes]))
  })
})

describe('analyzeRecording(a hold that cannot prove tightness) is void when tight, and never passes a leak', () => {
  it.each(unproven.map((row, i) => [...row, kindOf(i)] as const))('%s', (_, fault, codes, kind) => {
    const tight = resultsOf(kind, 0, fault)
    expect(tight.map(({ verdict }) => verdict)).toEqual(['void'])
    expect(told(tight)).toEqual(expect.arrayContaining([...codes]))
    const leaking = resultsOf(kind, 1.3, fault)
    expect(leaking).toHaveLength(1)
    expect(leaking[0].verdict).not.toBe('pass')
  })
})

describe('analyzeRecording(a harmless oddity) passes half the allowance', () => {
  it.each(harmless.map((row, i) => [...row, kindOf(i)] as const))('%s', (_, fault, codes, kind) => {
    const results = resultsOf(kind, 0.5, fault)
    expect(
      results.map(({ verdict }) => verdict),
      `${told(results)}`,
    ).toEqual(['pass'])
    expect(told(results)).toEqual(expect.arrayContaining([...codes]))
  })
})

describe('readRecording(the same hold, otherwise written) reads what the plain text says, and no set clock', () => {
  const hold = plainHold('line', { leak: 0.5, seed: 3 })
  const plain = readRecording(plainText(hold, 'line'), system, 'bench.lp')
  it.each(writtenOtherwise)('%s', (_, written) => {
    const { channels, marks, clockJumps } = readRecording(written(hold, 'line'), system, 'bench.lp')
    expect(channels).toEqual(plain.channels)
    expect(marks).toEqual(plain.marks)
    expect(clockJumps).toBeUndefined()
  })
})

describe('analyzeRecording(a leak that the whole hold does not show; found by hostile trials)', () => {
  const worst = { leak: 1.2, seed: 3 }
  it('warming hides a leak from a thermometer that hangs since the second reading of the hold', () => {
    const hold = plainHold('tank', { ...worst, rampKPerH: 5 })
    const dead = thermometer(hold, (c, t) => (t > hold.times.holdS ? 20.03 : c))
    expect(verdictOf(dead, 'tank')).toBe('void')
  })
  it('a falling atmosphere hides a leak from a barometer that repeats one reading', () => {
    const hold = plainHold('tank', { ...worst, barometerPaPerH: -250 })
    expect(
      verdictOf(
        rows(hold, (row) => ({ ...row, hPa: 1010 })),
        'tank',
      ),
    ).not.toBe('pass')
  })
  it('a cock shut in the middle and opened with the vent leaves a leak that stopped', () => {
    for (const kind of ['line', 'tank'] as const) {
      const hold = plainHold(kind, { leak: 2, seed: 3 })
      const shut = shutOff(hold, kind, into(hold, 0.4), hold.times.ventS)
      expect(verdictOf(shut, kind), kind).not.toBe('pass')
    }
  })
})

function verdictOf(hold: PlainHold, kind: PlainKind): string {
  return analyzeRecording(readRecording(plainText(hold, kind), system, 'a.lp'), system)[0].result.verdict
}
