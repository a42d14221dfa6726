import { describe, expect, test } from 'vitest'
import { isBootBanner } from '#ingest/intake/dialects/boot-banner.ts'
import { csvDialect } from '#ingest/intake/dialects/csv.ts'
import { type DetectOptions, DialectDetector } from '#ingest/intake/dialects/detect-dialect.ts'
import { type Dialect, describeDialect } from '#ingest/intake/dialects/dialect.ts'
import { jsonLinesDialect } from '#ingest/intake/dialects/json-lines.ts'
import { bareNumberDialect, keyValueDialect } from '#ingest/intake/dialects/key-value.ts'
import { readOwnTime } from '#ingest/intake/dialects/own-time.ts'
import { readNumber } from '#ingest/intake/dialects/read-number.ts'

function fields(dialect: Dialect, line: string) {
  const outcome = dialect.read(line)
  return outcome.kind === 'reading' ? outcome.reading.fields : outcome
}

describe('readNumber', () => {
  test.each([
    ['101.325', 101.325],
    [' -0.5 ', -0.5],
    ['.5', 0.5],
    ['5.', 5],
    ['+1e3', 1000],
    ['nan', null],
    ['NaN', null],
    ['-inf', null],
    ['', null],
    ['---', null],
    ['101.325000.2', undefined],
    ['0x1F', undefined],
    ['1_000', undefined],
    ['10 psi', undefined],
    ['1e999', undefined],
    ['12:03', undefined],
  ])('readNumber(%j) is %j: only a whole number is a number', (text, value) => {
    expect(readNumber(text)).toBe(value)
  })
  test('readNumber reads a decimal comma only when asked to', () => {
    expect(readNumber('10,25', ',')).toBe(10.25)
    expect(readNumber('10,25')).toBeUndefined()
    expect(readNumber('10.25', ',')).toBeUndefined()
  })
})

describe('readOwnTime', () => {
  test.each([
    ['1767225600', 1767225600000000000n],
    ['1767225600.25', 1767225600250000000n],
    ['1767225600123', 1767225600123000000n],
    ['1767225600123456', 1767225600123456000n],
    ['1767225600123456789', 1767225600123456789n],
    ['2026-01-01T00:00:00Z', 1767225600000000000n],
    ['2026-01-01 01:00:00.5+01:00', 1767225600500000000n],
    ['2026-01-01T00:00:00.123456789Z', 1767225600123456789n],
    ['2026-01-01T00:00:00', null],
    ['123456', null],
    ['12:03:01', null],
    ['2026-13-01T00:00:00Z', null],
  ])('readOwnTime(%j) is %s: a zone or an epoch, never a guess (values computed)', (text, time) => {
    expect(readOwnTime(text)).toBe(time)
  })
})

describe('keyValueDialect', () => {
  test.each([
    ['p1=10.01,t1=21.3', { p1: 10.01, t1: 21.3 }],
    ['p1=10.01 psi, t1=21.3 °C', { p1: 10.01, t1: 21.3 }],
    ['p1[psi]=10.01 t1[degC]=21.3', { p1: 10.01, t1: 21.3 }],
    ['p1 (psi) = 10.01; oil temp (degC) = 21.3', { p1: 10.01, oil_temp: 21.3 }],
    ['pressure:10.01\ttemperature:21.3', { pressure: 10.01, temperature: 21.3 }],
    ['p1=10.01psi t1=21.3C', { p1: 10.01, t1: 21.3 }],
    ['p1=10.01 t1=nan', { p1: 10.01 }],
    ['p1=1e5,t1=2.1E1 degC', { p1: 100_000, t1: 21 }],
    ['constructor=1 toString=2', { constructor: 1, toString: 2 }],
    ['seq=7 p1=10.01 state=ok', { seq: 7, p1: 10.01, state: 'ok' }],
    ['time=81223 p1=10.01', { logger_time: 81223, p1: 10.01 }],
  ])('read(%j) gives the labelled numbers', (line, expected) => {
    expect(fields(keyValueDialect(), line)).toEqual(expected)
  })
  test.each([
    ['p1=101.325000.2', 'p1 is not a number'],
    ['p1=10.0 p1=10.1', 'p1 comes twice'],
    ['p1=10.0,t1=2110.0,p1=10.0', 'p1 comes twice'],
    ['p1=nan t1=nan', 'no number in it'],
    ['p1=', 'no number in it'],
  ])('read(%j) is refused: %s', (line, reason) => {
    expect(fields(keyValueDialect(), line)).toEqual({ kind: 'refused', reason })
  })
  test('read refuses a label whose unit changes in mid-stream: 0.69 bar is not 0.69 psi', () => {
    const dialect = keyValueDialect()
    dialect.read('p1=10.0 psi')
    expect(fields(dialect, 'p1=0.69 bar')).toEqual({
      kind: 'refused',
      reason: 'p1 was in psi and is now in bar',
    })
    expect(describeDialect(dialect)).toBe('key-value: p1 [psi]')
  })
})

describe('jsonLinesDialect', () => {
  test('read flattens nested objects and leaves out null', () => {
    expect(
      fields(jsonLinesDialect(), '{"p1":10.01,"bme":{"t":21.3,"h":null},"adc":[1,2],"ok":true}'),
    ).toEqual({
      p1: 10.01,
      'bme.t': 21.3,
      'adc.0': 1,
      'adc.1': 2,
      ok: true,
    })
  })
  test('read keeps the names and exact nanoseconds of an object that is already a point', () => {
    const line =
      '{"measurement":"bench","tags":{"port":"a"},"fields":{"p1":10.01},"timestamp":1767225600123456789}'
    expect(jsonLinesDialect().read(line)).toEqual({
      kind: 'reading',
      reading: {
        measurement: 'bench',
        tags: { port: 'a' },
        fields: { p1: 10.01 },
        timeNs: 1767225600123456789n,
      },
    })
  })
  test.each([
    ['{"p1":10.0', 'not JSON'],
    ['[10.0]', 'JSON, but not an object'],
    ['{"p1":101.325000.2}', 'not JSON'],
    ['{"p1":null}', 'no number in it'],
  ])('read(%j) is refused: %s', (line, reason) => {
    expect(fields(jsonLinesDialect(), line)).toEqual({ kind: 'refused', reason })
  })
})

describe('a line of too many values', () => {
  const many = <T>(of: (n: number) => T) => Array.from({ length: 1025 }, (_, n) => of(n))
  test('key-value read of 1,025 labels is refused: more fields than a line may have', () => {
    expect(fields(keyValueDialect(), many((n) => `a${n}=1`).join(' '))).toEqual({
      kind: 'refused',
      reason: 'more than 1024 labels',
    })
  })
  test('json-lines read of too many or too deeply nested values is refused', () => {
    const tooMuch = { kind: 'refused', reason: expect.stringContaining('more than 1024 values') }
    expect(fields(jsonLinesDialect(), JSON.stringify({ a: many(Number) }))).toEqual(tooMuch)
    expect(fields(jsonLinesDialect(), `${'{"a":'.repeat(20)}1${'}'.repeat(20)}`)).toEqual(tooMuch)
  })
})

describe('csvDialect', () => {
  const shape = { separator: ',', decimalSign: '.', header: 'time,p1 [psi],t1', columns: 3 } as const
  test('read takes the names and units of the columns from the header', () => {
    const dialect = csvDialect(shape)
    expect(dialect.read('2026-01-01T00:00:00Z,10.01,21.3')).toEqual({
      kind: 'reading',
      reading: {
        measurement: 'logger',
        tags: {},
        fields: { p1: 10.01, t1: 21.3 },
        timeNs: 1767225600000000000n,
      },
    })
    expect(describeDialect(dialect)).toBe('csv: time, p1 [psi], t1')
  })
  test('read distinguishes a repeated header from a reading', () => {
    expect(csvDialect(shape).read('time,p1 [psi],t1').kind).toBe('header')
  })
  test.each([
    ['1,10.01', '2 columns where 3 are due'],
    ['1,10.01,21.31,10.02,21.3', '5 columns where 3 are due'],
    ['1,101.325000.2,21.3', 'p1 is not a number'],
    ['1,"10.01,21.3', 'a quote is not closed'],
    ['1,nan,', 'no number in it'],
  ])('read(%j) is refused: %s', (line, reason) => {
    expect(fields(csvDialect(shape), line)).toEqual({ kind: 'refused', reason })
  })
  test('read of two columns with one name keeps both', () => {
    expect(fields(csvDialect({ ...shape, header: 'p,p', columns: 2 }), '1,2')).toEqual({ p: 1, p_2: 2 })
  })
})

describe('bareNumberDialect', () => {
  test('read gives the field value', () => {
    expect(fields(bareNumberDialect('.'), '10.01 psi')).toEqual({ value: 10.01 })
    expect(fields(bareNumberDialect(','), '10,01')).toEqual({ value: 10.01 })
  })
  test('read refuses 101.325000.2', () => {
    expect(fields(bareNumberDialect('.'), '101.325000.2')).toEqual({
      kind: 'refused',
      reason: 'not a number',
    })
  })
})

describe('DialectDetector.detect', () => {
  const isPoint = (line: string) => /^\w+(,\w+=\w+)* \w+=[\d.]+( \d+)?$/.test(line)
  const detector = (lines: readonly string[], options: Partial<DetectOptions> = {}) => {
    const made = new DialectDetector({ isPoint, ...options })
    for (const line of lines) made.add(line)
    return made
  }
  const detect = (...lines: string[]) => detector(lines).detect()
  test.each([
    [['logger,port=a p1=1.5'], 'line-protocol'],
    [['{"p1":1.5}'], 'json-lines'],
    [['p1=1.5 t1=2', 'p1=1.5 t1=2'], 'key-value'],
    [['1.5', '1.6'], 'number'],
    [['1.5 psi', '1.6 psi'], 'number'],
    [['1.5,2', '1.6,2'], 'csv'],
    [['1.5 2', '1.6 2'], 'csv'],
    [['1.5\t2', '1.6\t2'], 'csv'],
    [['1,5;2,0', '1,6;2,0'], 'csv-decimal-comma'],
    [['t;p', '1,5;2,0', '1,6;2,0'], 'csv-decimal-comma'],
    [['ets Jun  8 2016 00:22:57', 'mode:DIO, clock div:1', 'p1=1 t1=2', 'p1=1 t1=2'], 'key-value'],
    [['5,21.3', '10.5,21.3', '10.5,21.3'], 'csv'],
  ] as const)('detect of %j is %s', (lines, name) => {
    expect(detect(...lines)?.name).toBe(name)
  })
  test.each([[['1.5']], [['p1=1']], [['25', '10.5,21.3']], [['garbage', 'more of it']], [['ready']]])(
    'detect of %j is undecided',
    (lines) => {
      expect(detect(...lines)).toBeNull()
    },
  )
  test('detect accepts one line when no more will come', () => {
    expect(detector(['1.5']).detect(true)?.name).toBe('number')
  })
  test('detect reports that a comma may be a decimal comma', () => {
    expect(detect('10,25', '10,26')?.doubt).toMatch(/number-decimal-comma/)
    expect(detect('10.1,25', '10.2,26')?.doubt).toBeNull()
  })
  test('detect uses the dialect that the user chose', () => {
    const chosen = detector(['10,25', '10,26'], { only: 'number-decimal-comma' }).detect()
    expect(chosen?.dialect?.read('10,25')).toMatchObject({ reading: { fields: { value: 10.25 } } })
  })
})

describe('isBootBanner', () => {
  test.each([
    'ets Jun  8 2016 00:22:57',
    'rst:0x1 (POWERON_RESET),boot:0x13 (SPI_FAST_FLASH_BOOT)',
    'mode:DIO, clock div:1',
    'load:0x3fff0030,len:1184',
    'Guru Meditation Error: Core  0 panic’ed',
    'MPY: soft reboot',
    'Booting...',
    '# stillhold logger boot 1.0',
  ])('isBootBanner(%j): common practice of boot loaders', (line) => {
    expect(isBootBanner(line)).toBe(true)
  })
  test.each([
    'p1=1 t1=2',
    'logger p1=1',
    '10.5,21.3',
    'mode=run p1=1',
    'load=12 p1=1',
    '# calibrated in March',
  ])('isBootBanner(%j) is false', (line) => {
    expect(isBootBanner(line)).toBe(false)
  })
})
