import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { ColumnReader, type WantedField } from '#ingest/line-protocol/column-reader.ts'
import type { Refusal } from '#ingest/line-protocol/point.ts'
import { readPoints } from './read-points.ts'

const wanted: WantedField[] = [
  { measurement: 'logger', field: 'p1', tags: { port: 'a' } },
  { measurement: 'logger', field: 'p1', tags: {} },
  { measurement: 'logger', field: 't1', tags: {} },
  { measurement: 'air', field: 'baro', tags: {} },
]

interface Columns {
  readonly columns: { readonly timeS: number[]; readonly values: number[] }[]
  readonly refused: (Refusal & { bytes: string })[]
  readonly others: string[]
  readonly notNumbers: string[]
}

function readColumns(bytes: Uint8Array, sizes: readonly number[]): Columns {
  const refused: Columns['refused'] = []
  const others: string[] = []
  const notNumbers: string[] = []
  const reader = new ColumnReader(wanted, {
    other: (point, line) => others.push(`${line} ${point.measurement} ${point.timeNs}`),
    refused: (refusal, line) => refused.push({ ...refusal, bytes: Buffer.from(line).toString('latin1') }),
    notANumber: (column, line) => notNumbers.push(`${line} ${column}`),
  })
  let at = 0
  for (let k = 0; at < bytes.length; k++) {
    const size = sizes[k % sizes.length]
    reader.push(bytes.subarray(at, at + size))
    at += size
  }
  reader.end()
  const columns = reader.columns.map((column) => ({
    timeS: Array.from(column.timeS),
    values: Array.from(column.values.subarray(0, column.count)),
  }))
  return { columns, refused, others, notNumbers }
}

/** The same through the objects of the strict reader. */
function columnsOfPoints(bytes: Uint8Array): Columns['columns'] {
  const { points } = readPoints(bytes, [bytes.length + 1])
  const timed = points.filter(({ timeNs }) => timeNs !== null)
  const base = timed.length === 0 ? 0n : BigInt(timed[0].timeNs!)
  return wanted.map(({ measurement, field, tags }) => {
    const timeS: number[] = []
    const values: number[] = []
    for (const point of timed) {
      if (point.measurement !== measurement) continue
      if (!Object.entries(tags).every(([key, value]) => point.tags[key] === value)) continue
      for (const { key, type, value } of point.fields) {
        if (key !== field || type === 'string' || type === 'boolean') continue
        timeS.push(Number(BigInt(point.timeNs!) - base) / 1e9)
        values.push(Number(value))
      }
    }
    return { timeS, values }
  })
}

const number = fc.oneof(
  fc
    .integer({ min: -99_999_999, max: 99_999_999 })
    .chain((n) => fc.integer({ min: 0, max: 7 }).map((d) => (n / 10 ** d).toFixed(d))),
  fc.double({ noNaN: true, noDefaultInfinity: true }).map(String),
  fc
    .tuple(fc.stringMatching(/^\d{9,23}$/), fc.nat(23), fc.constantFrom('', '-'))
    .map(([digits, at, sign]) => `${sign}${digits.slice(0, at)}.${digits.slice(at)}`),
  fc.constantFrom(
    'true',
    'F',
    'truth',
    '"ok 3"',
    '"a\\"b"',
    '"é"',
    '"a,b=1 2"',
    '"x',
    '5.i',
    '1e',
    '-t',
    '.',
  ),
  fc.constantFrom('1234567890123456789i', '9223372036854775808i', '18446744073709551615u'),
  fc.constantFrom(
    '0',
    '-0',
    '.5',
    '5.',
    '1e3',
    '-2.5E-2',
    '7i',
    '-7i',
    '9u',
    '123456789.123456',
    '1234567890123456',
    '1e400',
    '-',
    '1..2',
    '"x"',
    't',
  ),
)
const time = fc.oneof(
  fc.integer({ min: 0, max: 2_000_000_000 }).map((ns) => String(1_767_225_600_000_000_000n + BigInt(ns))),
  fc.constantFrom(
    '1',
    '-5',
    '999999999999999999',
    '9223372036854775807',
    '9223372036854775808',
    '0767225600000000000',
    '1767225600000000000 ',
  ),
)
const head = fc.constantFrom(
  'logger,port=a',
  'logger,port=b',
  'logger',
  'air',
  'mark,kind=note',
  'loggers',
  'log\\ ger',
)
const key = fc.constantFrom('p1', 't1', 'baro', 'p', 'p11', 'note')
const line = fc.oneof(
  {
    weight: 6,
    arbitrary: fc
      .tuple(fc.constantFrom('logger,port=a', 'air'), number, number, time)
      .map(([h, a, b, t]) => `${h} p1=${a},t1=${b} ${t}`),
  },
  {
    weight: 3,
    arbitrary: fc
      .tuple(head, fc.array(fc.tuple(key, number), { minLength: 1, maxLength: 3 }), time)
      .map(([h, fields, t]) => `${h} ${fields.map((pair) => pair.join('=')).join(',')} ${t}`),
  },
  {
    weight: 1,
    arbitrary: fc.constantFrom(
      '# c',
      '',
      'logger p1=1',
      'x',
      'logger,port=a p1="a',
      'logger p1=1  5',
      'é',
      'm s="é" 1',
    ),
  },
)

describe('ColumnReader', () => {
  it('ColumnReader(any lines, any cuts) gives the numbers that the strict reader gives, and refuses the same lines', () => {
    const sizes = fc.array(fc.integer({ min: 1, max: 200 }), { minLength: 1, maxLength: 4 })
    const lineEnd = fc.constantFrom('\n', '\n', '\n', '\r\n')
    fc.assert(
      fc.property(fc.array(fc.tuple(line, lineEnd), { maxLength: 40 }), sizes, (lines, cuts) => {
        const bytes = Buffer.from(lines.map((pair) => pair.join('')).join(''))
        const whole = readColumns(bytes, [bytes.length + 1])
        expect(readColumns(bytes, cuts)).toEqual(whole)
        expect(whole.columns).toEqual(columnsOfPoints(bytes))
        const strictly = readPoints(bytes, [bytes.length + 1]).refused
        expect(whole.refused.filter(({ cause }) => cause !== 'the line has no time')).toEqual(strictly)
      }),
      { numRuns: 500 },
    )
  })

  it('ColumnReader(hundreds of alternating series) gives each its own numbers', () => {
    const series = Array.from({ length: 300 }, (_, k) => String(k))
    const reader = new ColumnReader(
      series.map((s) => ({ measurement: 'm', field: 'f', tags: { s } })),
      { other() {}, refused() {} },
    )
    for (let k = 0; k < 3000; k++)
      reader.push(Buffer.from(`m,s=${(7 * k) % 300} f=${k} ${10n ** 18n + BigInt(k)}\n`))
    for (const [s, column] of reader.columns.entries()) {
      expect(column.count).toBe(10)
      for (const value of column.values.subarray(0, 10)) expect((7 * value) % 300).toBe(s)
    }
  })

  it('ColumnReader(…) keeps nanoseconds apart at any date: 1 ns after 1767225600 s is 1e-9 s', () => {
    const text =
      'logger p1=1 1767225600000000000\nlogger p1=2 1767225600000000001\nlogger p1=3 1767312000000000007\n'
    expect(readColumns(Buffer.from(text), [1000]).columns[1].timeS).toEqual([0, 1e-9, 86_400.000000007])
  })

  it('ColumnReader(lines with all columns) shares one time axis between them', () => {
    const reader = new ColumnReader(wanted.slice(0, 3), { other() {}, refused() {} })
    for (let k = 0; k < 10_000; k++)
      reader.push(Buffer.from(`logger,port=a p1=${k},t1=1 ${10n ** 18n + BigInt(k)}\n`))
    expect(new Set(reader.columns.map(({ axis }) => axis)).size).toBe(1)
    expect(reader.columns[2].count).toBe(10_000)
  })

  it('ColumnReader(a column that misses lines) leaves the axis and has its own times', () => {
    const text = [0, 1, 2, 3, 4]
      .map(
        (k) =>
          `logger,port=a p1=${k}${k % 2 === 0 ? ',t1=5' : ''} ${10n ** 18n + BigInt(k) * 1_000_000_000n}\n`,
      )
      .join('')
    const { columns } = readColumns(Buffer.from(text), [1000])
    expect(columns[0].timeS).toEqual([0, 1, 2, 3, 4])
    expect(columns[2].timeS).toEqual([0, 2, 4])
  })

  it.each([
    ['of a known length takes 2 % more than it needs', 100_000, 1.02],
    ['of an unknown length doubles', 0, 131_072 / 100_000],
  ])('ColumnReader(100,000 lines) %s', (_, known, share) => {
    const lines = Array.from({ length: 100_000 }, (_value, k) => `air baro=1 ${10n ** 18n + BigInt(k)}\n`)
    const bytes = Buffer.from(lines.join(''))
    const options = { totalBytes: known && bytes.length }
    const reader = new ColumnReader(wanted, { other() {}, refused() {} }, options)
    for (let at = 0; at < bytes.length; at += 50_000) reader.push(bytes.subarray(at, at + 50_000))
    const { values, axis } = reader.columns[3]
    for (const { length } of [values, axis.timeS]) expect(length / 100_000).toBeCloseTo(share, 3)
  })

  it('ColumnReader(a column whose times meet those of another after they differed) keeps its own', () => {
    const rows = ['0 a=1,b=1,d=1', '1 a=1,b=1', '2 d=1', '4 a=1', '5 d=1,b=1'].map((row) => row.split(' '))
    const reader = new ColumnReader(
      ['a', 'b', 'd'].map((field) => ({ measurement: 'logger', field, tags: {} })),
      { other() {}, refused() {} },
    )
    for (const [s, fields] of rows)
      reader.push(Buffer.from(`logger ${fields} ${10n ** 18n + BigInt(s) * 1_000_000_000n}\n`))
    expect(reader.columns.map(({ timeS }) => Array.from(timeS))).toEqual([
      [0, 1, 4],
      [0, 1, 5],
      [0, 2, 5],
    ])
  })

  it('ColumnReader(columns that part and meet on one line) share the times that are the same from their start', () => {
    const line = (fields: string, s: number) =>
      `logger ${fields} ${10n ** 18n + BigInt(s) * 1_000_000_000n}\n`
    const reader = new ColumnReader(
      ['a', 'b', 'c', 'd'].map((field) => ({ measurement: 'logger', field, tags: {} })),
      { other() {}, refused() {} },
    )
    const rows = [
      ['a=1,b=1,c=1,d=1', 'a=1', 'b=1,c=1', 'a=1,b=1,c=1,d=1'].map((fields, s) => line(fields, s)),
    ]
    reader.push(Buffer.from(rows.flat().join('')))
    const [a, b, c, d] = reader.columns
    expect([a, b, c, d].map(({ timeS }) => Array.from(timeS))).toEqual([
      [0, 1, 3],
      [0, 2, 3],
      [0, 2, 3],
      [0, 3],
    ])
    expect([b.axis === c.axis, a.axis === b.axis, a.axis === d.axis, b.axis === d.axis]).toEqual([
      ...[true, false, false, false],
    ])
  })
})
