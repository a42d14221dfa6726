import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import { ColumnReader } from '#ingest/line-protocol/column-reader.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import { LineParser } from '#ingest/line-protocol/line-parser.ts'
import { readPoints } from './read-points.ts'

const wanted = ['a', 'b'].map((field) => ({ measurement: 'm', field, tags: {} }))
const time = (n: number) => 1_767_225_600_000_000_000n + BigInt(n)

function read(text: string | Buffer) {
  const refused: string[] = []
  const listener = { other() {}, refused: ({ cause }: { cause: string }) => refused.push(cause) }
  const reader = new ColumnReader(wanted, listener)
  reader.push(Buffer.from(text))
  reader.end()
  const columns = reader.columns.map(({ timeS, values, count }) => ({
    timeS: Array.from(timeS),
    values: Array.from(values.subarray(0, count)),
  }))
  return { columns, refused }
}

/** Lines that the strict parser read. */
let strictly = 0
const { parse } = LineParser.prototype
beforeAll(() => {
  LineParser.prototype.parse = function (...given) {
    strictly++
    return parse.apply(this, given)
  }
})
beforeEach(() => {
  strictly = 0
})
afterAll(() => {
  LineParser.prototype.parse = parse
})

describe('ColumnReader, after the first line of a layout,', () => {
  it.each([
    ...['0', '-0', '7', '-12.25', '.5', '5.', '123456789', '1234567890', '-0.000123456789'],
    ...['1e3', '-2.5E-2', '1.5e+10', '7i', '-7i', '9u', '123456789012345678i'],
    ...['1234567890123456', '0.1234567890123456', '123456.7890123456789012', '12345678901234567.89012'],
  ])('reads %s without the strict parser, as the engine reads it', (written) => {
    const text = [0, 1, 2].map((n) => `m a=${n === 0 ? 1 : written},b=3 ${time(n)}\n`).join('')
    const value = Number(written.replace(/[iu]$/, ''))
    for (const crlf of [false, true]) {
      strictly = 0
      const { columns } = read(crlf ? text.replaceAll('\n', '\r\n') : text)
      expect(columns[0].values).toEqual([1, value, value])
      expect(columns[1]).toEqual({ timeS: [0, 1e-9, 2e-9], values: [3, 3, 3] })
      expect(strictly).toBe(1)
    }
  })

  it.each(['t', 'F', 'true', 'False', 'FALSE', '""', '"a,b=1 2"', `"${'x'.repeat(1000)}"`])(
    'passes over the word %s without the strict parser',
    (word) => {
      const { columns } = read([0, 1, 2].map((n) => `m a=${word},b=${n} ${time(n)}\n`).join(''))
      expect(columns.map(({ values }) => values)).toEqual([[], [0, 1, 2]])
      expect(strictly).toBe(1)
    },
  )

  it.each([
    ['a line of 65,536 bytes, the longest (grammar.ebnf)', 65_536, 1],
    ['a line of 65,537 bytes, which it refuses', 65_537, 0],
  ])('reads %s', (_, bytes, points) => {
    for (const end of ['\n', '\r\n']) {
      const rest = `m a=2,s="" ${time(1)}`
      const long = rest.replace('""', `"${'x'.repeat(bytes - rest.length)}"`)
      const { columns, refused } = read(`m a=1,s="x" ${time(0)}${end}${long}${end}`)
      expect(columns[0].values).toEqual([1, 2].slice(0, 1 + points))
      expect(refused.length > 0).toBe(points === 0)
    }
  })

  it.each([
    ['not UTF-8', 'm a=1,s="x\x80"'],
    ['a word that is none', 'm a=truest,s="x"'],
    ['a string that is not closed', 'm a=1,s="x'],
    ['a number of more digits than are exact', `m a=1.${'1'.repeat(23)},s="x"`],
  ])('takes or refuses %s as the strict reader does', (_, line) => {
    const text = Buffer.from(`m a=1,s="x" ${time(0)}\n${line} ${time(1)}\n`, 'latin1')
    const strict = readPoints(text, [1000])
    const fields = strict.points.map(({ fields: [a] }) => Number(a.value))
    const { columns, refused } = read(text)
    expect([columns[0].values, refused]).toEqual([fields, strict.refused.map(({ cause }) => cause)])
  })

  it.each([
    ['64 fields', 64, 1000, 1],
    ['65 fields', 65, 1000, 3],
    ['4096 bytes', 1, 4096, 1],
    ['4097 bytes', 1, 4097, 3],
  ])('knows the layout of a line with %s: the strict parser reads it so often', (_, fields, bytes, often) => {
    const names = Array.from({ length: fields }, (_value, n) => `f${n}=1`).join(',')
    const line = (n: number) => ` ${names} ${time(n)}\n`
    read([0, 1, 2].map((n) => `m,s=${line(n).padStart(bytes - 4, 'x')}`).join(''))
    expect(strictly).toBe(often)
  })

  it.each([
    [4096, 0],
    [4097, 4097],
  ])('of %i layouts in turn, the strict parser reads %i lines the second time', (layouts, again) => {
    const round = Array.from({ length: layouts }, (_, n) => `m,s=${n} a=1 ${time(n)}\n`).join('')
    read(round + round)
    expect(strictly - layouts).toBe(again)
  })

  it.each([
    ['m,s=a\\ b a=1', 'm,s=a b a=1'],
    ['m,s=a\\,b a=1', 'm,s=a,b a=1'],
    ['m,s=a\\=b a=1', 'm,s=a=b a=1'],
  ])('after %s refuses the same without its escape: %s', (escaped, bare) => {
    const { columns, refused } = read(`${escaped} ${time(0)}\n${bare} ${time(1)}\n`)
    expect([columns[0].values, refused.length]).toEqual([[1], 1])
  })

  it('forgets no layout for lines of a known one that only the strict parser reads', () => {
    const odd = `m,s=b s="é" ${time(1)}\n`
    read(`m,s=a a=1 ${time(0)}\n${odd.repeat(5000)}`)
    const before = strictly
    read(`m,s=a a=1 ${time(0)}\n${odd.repeat(5000)}m,s=a a=1 ${time(0)}\n`)
    expect(strictly).toBe(2 * before)
  })

  // 2^53 + 1 lies half-way between two doubles: the smallest error of a division would decide the rounding.
  it.each([
    '9007199254740993',
    '9007199254740993.0',
    '900719925474.0993',
    '9007199254740995.00000',
    '-0.9007199254740993',
  ])('rounds %s, at or near half-way between two doubles, as the engine does', (written) => {
    const { columns } = read([0, 1].map((n) => `m a=${n === 0 ? 1 : written} ${time(n)}\n`).join(''))
    expect(columns[0].values).toEqual([1, Number(written)])
  })

  it.each([
    ...['-767225600000000000', ':767225600000000000', '/767225600000000000', '176722560:000000000'],
    ...['17672256000000000:0', '176722560/000000000', '1767225600000000/000', '9767225600000000000'],
    ...['0767225600000000000', '8999999999999999999', '1000000000000000000', '17672256000000000000'],
  ])('takes or refuses the time %s as the strict reader does', (written) => {
    const text = `m a=1 ${time(0)}\nm a=2 ${written}\n`
    const strict = readPoints(Buffer.from(text), [1000])
    const timeS = strict.points.map(({ timeNs }) => Number(BigInt(timeNs!) - time(0)) / 1e9)
    expect(read(text)).toMatchObject({
      columns: [{ timeS }, {}],
      refused: strict.refused.map(({ cause }) => cause),
    })
  })

  it.each([
    ['the fields change', 'm a=1 T', 'm b=1 T'],
    ['the number of fields changes', 'm a=1 T', 'm a=1,b=2 T'],
    ['a tag changes', 'm,s=1 a=1 T', 'm,s=2 a=1 T'],
    ['the measurement changes', 'm a=1 T', 'n a=1 T'],
    // Two heads with the same hash of 31s: 31 · 'A' + 'a' = 31 · 'B' + 'B'.
    ['two heads have the same hash', 'm,s=Aa a=1 T', 'm,s=BB a=1 T'],
  ])('where %s from line to line: the strict parser reads one line of each layout', (_, one, other) => {
    const lines = Array.from({ length: 20 }, (_, n) =>
      (n % 3 === 0 ? one : other).replace('T', String(time(n))),
    )
    read(`${lines.join('\n')}\n`)
    const isOther = [one, other].some((line) => line.startsWith('n'))
    expect(strictly).toBe(isOther ? 2 + 12 : 2)
  })
})

describe('readers of line protocol', () => {
  it('ColumnReader(a string over 200 lines) tries it a few times, not once a line', () => {
    const { columns } = read(`m a=1,s="${'x\n'.repeat(200)}" ${time(0)}\nm a=2 ${time(1)}\n`)
    expect(columns[0].values).toEqual([1, 2])
    expect(strictly).toBeLessThan(8)
  })

  it.each([
    ['1000000000000000000', '8456146435837821123'],
    ['8456146435837821123', '1000000000000000000'],
    ['1767225600000000000', '2082585600123456789'],
  ])('ColumnReader(%s, then %s) rounds the time between them once', (first, second) => {
    const text = `m a=1 ${first}\nm a=2 ${second}\n`
    const sinceS = Number(BigInt(second) - BigInt(first)) / 1e9
    expect(read(text).columns[0].timeS).toEqual([0, sinceS])
  })

  it.each(['x', 'é x', 'm f=\xff'])(
    'PointReader(%s) hands on a refused line without its line end',
    (line) => {
      const bytes = Buffer.from(line, 'latin1')
      for (const end of ['\n', '\r\n']) {
        const { refused } = readPoints(
          Buffer.concat([bytes, Buffer.from(end), Buffer.from('m f=1 1\n')]),
          [100],
        )
        expect(refused.map((one) => one.bytes)).toEqual([bytes.toString('latin1')])
      }
    },
  )

  it('formatPoint(a value of another type) throws a TypeError that names field and type', () => {
    const fields = { f: undefined as unknown as number }
    expect(() => formatPoint({ measurement: 'm', fields, timeNs: null })).toThrow('field f is a undefined')
  })
})
