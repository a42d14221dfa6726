import { describe, expect, test } from 'vitest'
import { Intake, type IntakeOptions } from '#ingest/intake/intake.ts'
import { crc16 } from '#ingest/intake/sequence.ts'
import { longestLineBytes } from '#ingest/line-protocol/line-blocks.ts'
import { Heard } from '#tests/ingest/sources/heard.ts'

const startNs = 1767225600000000000n
const at = (seconds: number) => ({
  wallNs: startNs + BigInt(Math.round(seconds * 1e9)),
  monotonicNs: BigInt(Math.round(seconds * 1e9)),
})

function listen(options: Partial<IntakeOptions> = {}) {
  const heard = new Heard()
  const intake = new Intake({ port: 'bench', sink: heard, ...options })
  intake.opened(at(0))
  let seconds = 0
  const say = (text: string | Uint8Array) => {
    seconds++
    intake.bytes(typeof text === 'string' ? Buffer.from(text) : text, at(seconds))
  }
  const close = () => {
    seconds++
    intake.closed(at(seconds))
  }
  return { heard, intake, say, close }
}

const stamp = (seconds: number) => `176722560${seconds}000000000`

describe('Intake reads line protocol', () => {
  test('a point with a time is unchanged, one without gets its arrival time', () => {
    const { heard, say } = listen()
    say('logger,port=a p1=10.50,n=3i 1767225599000000001\nlogger p1=10.25\r\n')
    expect(heard.points).toEqual([
      'logger,port=a p1=10.50,n=3i 1767225599000000001',
      `logger p1=10.25 ${stamp(1)}`,
    ])
  })
  test('lines that arrive in one chunk get different times', () => {
    const { heard, say } = listen()
    say('logger p1=1\nlogger p1=2\nlogger p1=3\n')
    expect(heard.points.map((line) => line.split(' ')[2])).toEqual([
      '1767225601000000000',
      '1767225601000000001',
      '1767225601000000002',
    ])
  })
  test('a mark from the logger passes as a point', () => {
    const { heard, say } = listen()
    say('mark,kind=stage name="hold" 1767225600000000000\n')
    expect(heard.points).toEqual(['mark,kind=stage name="hold" 1767225600000000000'])
  })
  test('cut at any byte, the same lines give the same points, comments and rejects', () => {
    const stream = Buffer.from(
      'logger p1=1 1767225600000000001\r\n# a comment\nlogger p1=101.325000.2\n\0\0logger p1=2\n\nlogger µ="ä,ö" 1767225600000000003\nlogger p1=1 17672',
    )
    const whole = listen()
    whole.say(stream)
    whole.close()
    for (const size of [1, 2, 7, 31]) {
      const cut = listen()
      for (let i = 0; i < stream.length; i += size) cut.intake.bytes(stream.subarray(i, i + size), at(1))
      cut.close()
      expect(cut.heard).toEqual(whole.heard)
    }
    expect(whole.heard.points).toHaveLength(2)
    expect(whole.heard.rejects).toHaveLength(3)
  })
  test('after thousands of lines of garbage, the dialect is detected within 48 lines', () => {
    const { heard, say } = listen()
    say('?x\n'.repeat(3000))
    for (let n = 0; n < 48; n++) say(`p1=${n} psi, t1=20 degC\n`)
    expect(heard.points.length).toBeGreaterThan(0)
    expect(heard.points.length + heard.rejects.length).toBe(3048)
  })
  test('tags of the port are added; the logger’s own take precedence', () => {
    const { heard, say } = listen({ tags: { port: 'a' } })
    say('logger p1=1 1767225600000000001\nlogger,port=z p1=2 1767225600000000002\n')
    expect(heard.points).toEqual([
      'logger,port=a p1=1 1767225600000000001',
      'logger,port=z p1=2 1767225600000000002',
    ])
  })
})

describe('Intake keeps what is no sample as evidence', () => {
  test.each([
    ['logger p1=101.325000.2', /expected the number to end/],
    ['logger p1=', /expected a number/],
    ['\0\0logger p1=1', /control characters/],
    ['logger p1=1\u0007', /control characters/],
    ['ets Jun  8 2016 00:22:57', /column/],
    ['ger p1=1.5 2 3', /line to end/],
  ])('%j is rejected with its bytes', (line, reason) => {
    const { heard, say, intake } = listen()
    say('logger p1=1\n')
    say(`${line}\nlogger p1=2\n`)
    expect(heard.points).toHaveLength(2)
    expect(heard.rejects).toHaveLength(1)
    expect(heard.rejects[0]).toMatch(reason)
    expect(heard.rejects[0].endsWith(`: ${line}`)).toBe(true)
    expect(intake.state(0n)).toMatchObject({ lines: 3, rejected: 1 })
  })
  test('bytes that are not UTF-8 are kept unchanged', () => {
    const { heard, say } = listen()
    say('logger p1=1\n')
    say(Uint8Array.from([0xff, 0xfe, 0x80, 10]))
    expect(heard.rejects).toEqual(['control characters or not UTF-8: \xff\xfe\x80'])
  })
  test('a half line at the end never joins the first line after: 1013.25 does not become 101 and 3.25', () => {
    const { heard, say, close, intake } = listen()
    say('logger p1=1\nlogger p1=101')
    close()
    intake.opened(at(9))
    intake.bytes(Buffer.from('3.25\nlogger p1=2\n'), at(10))
    expect(heard.points.map((line) => line.slice(0, 11))).toEqual(['logger p1=1', 'logger p1=2'])
    expect(heard.rejects[0]).toBe('half line at the end of the connection: logger p1=101')
    expect(heard.rejects[1]).toMatch(/: 3.25$/)
    expect(heard.marks.map(({ kind }) => kind)).toEqual(['gap'])
  })
  test('a last line without line end counts when its time has all its digits, and not when one may be missing', () => {
    for (const [last, points] of [
      ['logger p1=2 1767225600000000002', 2],
      ['logger p1=2 176722560000000000', 1],
      ['logger p1=2', 1],
    ] as const) {
      const { heard, say, close } = listen()
      say(`logger p1=1 1767225600000000001\n${last}`)
      close()
      expect(heard.points).toHaveLength(points)
      expect(heard.points.length + heard.rejects.length).toBe(2)
    }
  })
  test('a line of more than 64 kB is one fault, all its bytes are kept and the next line is read', () => {
    const { heard, say } = listen()
    say('logger p1=1\n')
    const long = 'x'.repeat(3 * longestLineBytes)
    for (let i = 0; i < long.length; i += 1000) say(long.slice(i, i + 1000))
    say('yz\nlogger p1=2\n')
    expect(heard.faults).toEqual(['line-too-long'])
    expect(heard.rejects.map((text) => text.replace('line too long: ', '')).join('')).toBe(`${long}yz`)
    expect(heard.points).toHaveLength(2)
  })
  test('a time that lost digits in transit is not a time', () => {
    const { heard, say } = listen()
    say('logger p1=1 1767225600000000001\nlogger p1=2 176722560000000002\n')
    expect(heard.points).toHaveLength(1)
    expect(heard.rejects).toEqual(['its time has lost digits: logger p1=2 176722560000000002'])
  })
  test('a check sum that does not fit refuses the line: 101.3 that lost its 0 reads as 11.3', () => {
    const { heard, say } = listen()
    const sum = crc16('logger p1=101.3')
    say(
      `logger p1=101.3,crc=${sum}i\nlogger p1=11.3,crc=${sum}i\nlogger p1=101.3,crc=${sum}i 1767225600000000001\n`,
    )
    expect(heard.points).toHaveLength(2)
    expect(heard.rejects[0]).toMatch(/^its checksum does not match/)
  })
  test('crc16("123456789") is 0x29B1: the check value of CRC-16/CCITT-FALSE (from memory)', () => {
    expect(crc16('123456789')).toBe(0x29b1)
  })
})

describe('Intake joins a logger in mid-line', () => {
  test.each([
    ['line protocol', 'ger p1=1\n', 'logger p1=2\nlogger p1=3\n'],
    ['key=value', '1=10.5 t1=20\n', 'p1=10.5 t1=20\np1=10.5 t1=20\n'],
    ['columns', '3.25,20.1\n', '1013.25,20.1\n1013.25,20.1\n'],
    ['bare numbers', '3.25\n', '1013.25\n1013.25\n'],
  ])('%s: the tail of a line is not a reading', (_dialect, tail, whole) => {
    const { heard, say } = listen({ joinsMidLine: true })
    say(tail)
    say(whole)
    expect(heard.points).toHaveLength(2)
    expect(heard.rejects).toHaveLength(1)
    expect(heard.rejects[0].endsWith(tail.trim())).toBe(true)
  })
  test.each([
    ['line protocol', 'logger,port=a p1=1\n', 'logger,port=a p1=2\n'],
    ['key=value', 'p1=1 t1=2\n', 'p1=1 t1=3\n'],
    ['JSON', '{"p1":1}\n', '{"p1":2}\n'],
  ])('%s: a first line with the same names as the second was whole', (_dialect, first, second) => {
    const { heard, say } = listen({ joinsMidLine: true })
    say(first)
    say(second)
    expect(heard.points).toHaveLength(2)
    expect(heard.points[0]).toMatch(/ 176722560100000000\d$/)
    expect(heard.rejects).toEqual([])
  })
  test('a mark in the first line needs no confirmation', () => {
    const { heard, say } = listen({ joinsMidLine: true })
    say('mark,kind=stage name="pump-up" 1767225600000000000\nlogger p1=1\n')
    expect(heard.points).toHaveLength(2)
  })
  test('a single line that nothing confirms is kept, not counted as a sample', () => {
    const { heard, say, close } = listen({ joinsMidLine: true })
    say('logger p1=1\n')
    close()
    expect(heard.points).toEqual([])
    expect(heard.rejects).toEqual(['first line after opening, may be cut: logger p1=1'])
  })
})

describe('Intake opened in mid-stream, with two different lines', () => {
  test.each([
    ['logger p1=10.5,t1=21.3\nlogger p1=10.6,t1=21.4\n'],
    ['p1=10.5 t1=21.3\np1=10.6 t1=21.4\n'],
    ['{"p1":10.5,"t1":21.3}\n{"p1":10.6,"t1":21.4}\n'],
  ])('keeps the first of %j: every value is named in front', (stream) => {
    const { heard, say } = listen({ joinsMidLine: true })
    say(stream)
    expect(heard.points).toHaveLength(2)
    expect(heard.rejects).toEqual([])
  })
  test.each([
    ['10.5,21.3\n10.6,21.4\n', '10.5,21.3'],
    ['3.25\n1013.26\n1013.27\n', '3.25'],
    ['t1=21.3\np1=10.6 t1=21.4\np1=10.7 t1=21.5\n', 't1=21.3'],
  ])('does not count the first of %j: it may be a tail', (stream, first) => {
    const { heard, say } = listen({ joinsMidLine: true })
    say(stream)
    expect(heard.rejects).toEqual([`first line after opening, may be cut: ${first}`])
  })
})

describe('Intake translates dialects', () => {
  test.each([
    ['p1=10.5 psi, t1=21.25 °C\n'.repeat(2), 'logger p1=10.5,t1=21.25', 'key-value: p1 [psi], t1 [°C]'],
    ['{"seq":4,"p1":10.5}\n', 'logger seq=4i,p1=10.5', 'json-lines: seq, p1'],
    [
      'p [psi];t [°C]\n10,5;21,25\n10,5;21,25\n',
      'logger p=10.5,t=21.25',
      'csv-decimal-comma: p [psi], t [°C]',
    ],
    ['10.5,21.25\n10.5,21.25\n', 'logger c1=10.5,c2=21.25', 'csv: c1, c2'],
    ['10.5 psi\n10.5 psi\n', 'logger value=10.5', 'number: value [psi]'],
  ])('%j becomes %s', (stream, point, dialect) => {
    const { heard, say, intake } = listen()
    say(stream)
    expect(heard.points[0].startsWith(`${point} `)).toBe(true)
    expect(heard.rejects).toEqual([])
    expect(intake.state(0n)).toMatchObject({ dialect, confirmed: false })
    expect(heard.marks.map(({ fields }) => fields['text'])).toEqual([`bench sends ${dialect}`])
  })
  test('a dialect chosen by the user counts as confirmed', () => {
    const { heard, say, intake } = listen({ dialect: 'number-decimal-comma' })
    say('10,25\n10,5\n')
    expect(heard.points[0]).toMatch(/^logger value=10.25 /)
    expect(intake.state(0n).confirmed).toBe(true)
  })
  test('confirm with another dialect applies to the next lines', () => {
    const { heard, say, intake } = listen()
    say('10,25\n10,5\n')
    expect(heard.points[0]).toMatch(/^logger c1=10,c2=25 /)
    expect(heard.marks.at(-1)?.fields.text).toMatch(
      /^bench sends csv: c1, c2; .* choose .*number-decimal-comma$/,
    )
    intake.confirm('number-decimal-comma')
    say('10,25\n10,5\n')
    expect(heard.points[2]).toMatch(/^logger value=10.25 /)
  })
  test('lines of no known dialect are all kept', () => {
    const { heard, say, close } = listen()
    for (let i = 0; i < 40; i++) say(`what is this ${i} ?\n`)
    close()
    expect(heard.rejects).toHaveLength(40)
    expect(heard.points).toEqual([])
  })
  test('a column name that line protocol cannot write refuses the line and does not throw', () => {
    const { heard, say } = listen()
    say('{"p\\\\":1}\n')
    expect(heard.rejects).toHaveLength(1)
  })
})

describe('Intake notices what a logger lost', () => {
  const lines = (...numbers: number[]) => numbers.map((n) => `logger seq=${n}i,p1=1\n`).join('')
  test.each([
    ['none', [1, 2, 3, 4], 0, 0],
    ['two', [1, 2, 5, 6], 2, 0],
    ['one twice', [1, 3, 5], 2, 0],
    ['a 16-bit counter that starts over', [65534, 65535, 0, 1], 0, 0],
    ['one at the start-over of an 8-bit counter', [254, 0, 1], 1, 0],
    ['a reset', [500, 501, 0, 1], 0, 1],
    ['repeats', [1, 1, 2, 2], 0, 0],
  ])('%s: %j', (_what, numbers, missing, resets) => {
    const { say, intake } = listen()
    say(lines(...numbers))
    expect(intake.state(0n)).toMatchObject({ missing, resets })
  })
  test('one counter for two series, and one counter each, are both followed', () => {
    const shared = listen()
    shared.say('a seq=1i\nb seq=2i\na seq=3i\nb seq=6i\na seq=7i\n')
    expect(shared.intake.state(0n)).toMatchObject({ missing: 2, resets: 0 })
    const each = listen()
    each.say('a seq=1000i\nb seq=5i\na seq=1001i\nb seq=6i\na seq=1004i\nb seq=7i\n')
    expect(each.intake.state(0n)).toMatchObject({ missing: 2, resets: 0 })
  })
  test('a reset is one fault mark, however many lines its boot message has', () => {
    const { heard, say } = listen()
    say('# stillhold bench-logger boot 1\n')
    say(lines(0, 1, 2))
    say('ets Jun  8 2016 00:22:57\nrst:0x1 (POWERON_RESET),boot:0x13\n# stillhold bench-logger boot 1\n')
    say(lines(0, 1))
    expect(heard.faults).toEqual(['logger-reset'])
    expect(heard.points).toHaveLength(5)
  })
  test('a repeated header is a reset', () => {
    const { heard, say } = listen()
    say('p1,t1\n1,2\n1,2\np1,t1\n1,2\n')
    expect(heard.faults).toEqual(['logger-reset'])
    expect(heard.points).toHaveLength(3)
  })
})

describe('Intake.fault', () => {
  test('is marked on this computer’s clock until the logger sends its own, then on the logger’s', () => {
    const { heard, say, intake } = listen()
    const markedNs = (seconds: number) => {
      intake.fault({ code: 'silent', message: 'silent' }, at(seconds))
      return heard.marks.at(-1)?.timeNs
    }
    expect(markedNs(5)).toBe(startNs + 5_000_000_000n)
    say('logger p1=1 1500000000000000000\n')
    expect(markedNs(3)).toBe(1500000002000000000n)
  })
})
