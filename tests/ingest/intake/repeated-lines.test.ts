import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { LineReader } from '#ingest/intake/dialect.ts'
import { csvDialect } from '#ingest/intake/dialects/csv.ts'
import type { Dialect } from '#ingest/intake/dialects/dialect.ts'
import { jsonLinesDialect } from '#ingest/intake/dialects/json-lines.ts'
import { bareNumberDialect, keyValueDialect } from '#ingest/intake/dialects/key-value.ts'
import { RepeatedLines } from '#ingest/intake/repeated-lines.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'

/** What a dialect that reads every line itself makes of it, as line protocol. */
function byDialect(dialect: Dialect, line: string): string {
  const outcome = dialect.read(line)
  if (outcome.kind !== 'reading') return outcome.kind === 'refused' ? outcome.reason : outcome.kind
  const { timeNs, ...reading } = outcome.reading
  const fields = Object.entries(reading.fields).map(([key, value]) => [
    key,
    key === 'seq' && Number.isSafeInteger(value) ? BigInt(value as number) : value,
  ])
  return formatPoint({ ...reading, fields: Object.fromEntries(fields), timeNs })
}

/** A reader for which `first` has decided the dialect; what it makes of a line, by its text and by its point. */
function reader(first: string) {
  const lines = new LineReader(null, {}, [first, first])
  expect(lines.decide(true)).toBe(true)
  return (line: string): readonly [text: string, point: string] => {
    const outcome = lines.read(line)
    if (outcome.kind === 'reading') return [outcome.reading.text, formatPoint(outcome.reading.point)]
    const why = outcome.kind === 'refused' ? outcome.reason : outcome.kind
    return [why, why]
  }
}

const plain = fc
  .tuple(fc.boolean(), fc.integer({ min: 0, max: 2_000_000 }), fc.integer({ min: 0, max: 6 }))
  .map(
    ([negative, digits, decimals]) => `${negative ? '-' : ''}${(digits / 10 ** decimals).toFixed(decimals)}`,
  )
const odd = fc.constantFrom(
  ...[
    '0',
    '-0',
    '-0.00',
    '007',
    '00.5',
    '1.',
    '.5',
    '+5',
    '1e3',
    '-2.5E-3',
    '1.5.2',
    '--',
    'nan',
    'ok',
    'true',
  ],
  ...['0.0000001', '0.000001', '123456789', '1234567890', '1767225600', '1767225600000', '-1767225600'],
  ...[
    '123456789.123456',
    '123456789.1234567',
    '90071992.547409935',
    '0.3000000000000001',
    '123456789.98765432',
    '0.1000000000000000055',
    '12-3',
    '5 6',
    '',
  ],
)
const numbers = fc.array(
  fc.tuple(...Array.from({ length: 3 }, () => fc.oneof({ arbitrary: plain, weight: 6 }, odd))),
  {
    minLength: 3,
    maxLength: 12,
  },
)

const dialects: readonly (readonly [string, Dialect, (a: string, b: string, c: string) => string])[] = [
  [
    'columns',
    csvDialect({ separator: ',', decimalSign: '.', header: null, columns: 3 }),
    (a, b, c) => `${a},${b},${c}`,
  ],
  [
    'columns after blanks',
    csvDialect({ separator: ';', decimalSign: '.', header: null, columns: 3 }),
    (a, b, c) => ` ${a}; ${b} ;"${c}"`,
  ],
  ['labels', keyValueDialect(), (a, b, c) => `p1=${a}, t2=${b}, seq=${c}`],
  ['labels with units', keyValueDialect(), (a, b, c) => `p1 [kg/cm2]: ${a} t=${b} m3 time=${c}`],
  ['JSON', jsonLinesDialect(), (a, b, c) => `{"p1": ${a},"seq":${b},"in":{"t 1":[${c}]}}`],
  ['JSON with names in digits', jsonLinesDialect(), (a, b, c) => `{"2":${a},"1":${b},"p":${c}}`],
  ['JSON with a name twice', jsonLinesDialect(), (a, b, c) => `{"p":${a},"p":${b},"q":${c}}`],
  [
    'a point in JSON',
    jsonLinesDialect(),
    (a, b, c) => `{"name":"bay 1","fields":{"p":${a},"q":${b}},"time":${c}}`,
  ],
  ['numbers with a unit', bareNumberDialect('.'), (a) => `${a} psi`],
]

describe('LineReader.read', () => {
  test.each(dialects)('reads %s as the dialect does that reads every line itself', (_, dialect, lineOf) => {
    fc.assert(
      fc.property(numbers, (values) => {
        const first = lineOf('10.25', '9.5', '3')
        const read = reader(first)
        const alone = dialect.again()
        for (const line of [first, ...values.map(([a, b, c]) => lineOf(a, b, c))]) {
          const expected = byDialect(alone, line)
          expect([line, ...read(line)]).toEqual([line, expected, expected])
        }
      }),
      { numRuns: 200 },
    )
  })
})

describe('RepeatedLines.read', () => {
  const point = (p: number, q: number) => ({
    measurement: 'logger',
    tags: {},
    fields: [{ key: 'p', type: 'float', value: p } as const, { key: 'q', type: 'float', value: q } as const],
    timeNs: null,
  })
  test('a line of a learned shape is read without the dialect', () => {
    const lines = new RepeatedLines()
    expect(lines.read('1 of 2')).toBeNull()
    lines.learn('1 of 2', point(1, 2), (line) => {
      const [p, , q] = line.split(' ')
      return point(Number(p), Number(q))
    })
    expect(lines.read('-3.50 of 0')).toEqual({ point: point(-3.5, 0), text: 'logger p=-3.5,q=0' })
    expect(lines.read('3 off 0')).toBeNull()
    expect(lines.read('3 of 0 ')).toBeNull()
  })
  test('a number that changes two fields, or another, is not learned', () => {
    const lines = new RepeatedLines()
    lines.learn('1 of 2', point(1, 2), (line) => {
      const [p, , q] = line.split(' ')
      return point(Number(p), Number(p) + Number(q) - 1)
    })
    lines.learn('1 of 2', point(2, 1), (line) => {
      const [p, , q] = line.split(' ')
      return point(Number(q), Number(p))
    })
    expect(lines.read('3 of 4')).toBeNull()
  })
})
