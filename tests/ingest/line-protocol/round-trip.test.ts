import { Point as ClientPoint } from '@influxdata/influxdb-client'
import fc from 'fast-check'
import parseWithNpm from 'influx-line-protocol-parser'
import { describe, expect, it } from 'vitest'
import { formatPoint, type PointToFormat } from '#ingest/line-protocol/format-point.ts'
import type { Field, Point } from '#ingest/line-protocol/point.ts'
import { arbitraryPoint } from './arbitrary-point.ts'
import { readPoints } from './read-points.ts'

function readOne(line: string): Point {
  const said = readPoints(Buffer.from(line), [line.length + 1])
  expect(said.refused).toEqual([])
  expect(said.points).toHaveLength(1)
  return said.points[0]
}

/** Tags by their entries, sorted: a plain object puts names that look like numbers first. */
function comparable(point: Point) {
  return { ...point, tags: Object.entries(point.tags).sort(([a], [b]) => (a < b ? -1 : 1)) }
}

describe('formatPoint and PointReader', () => {
  it('PointReader(formatPoint(point)) is the point, and formatPoint of that is the line: any point', () => {
    fc.assert(
      fc.property(arbitraryPoint, (point) => {
        const line = formatPoint(point)
        const back = readOne(line)
        expect(comparable(back)).toEqual(comparable(point))
        expect(formatPoint(back)).toBe(line)
      }),
      { numRuns: 500 },
    )
  })

  it('PointReader(any points, any cuts) gives the points, whatever the chunks', () => {
    const sizes = fc.array(fc.integer({ min: 1, max: 30 }), { minLength: 1, maxLength: 6 })
    const lineEnd = fc.constantFrom('\n', '\r\n', '\n\n', '\n# comment "\n')
    fc.assert(
      fc.property(fc.array(fc.tuple(arbitraryPoint, lineEnd), { maxLength: 6 }), sizes, (lines, cuts) => {
        const bytes = Buffer.from(lines.map(([point, end]) => formatPoint(point) + end).join(''))
        const said = readPoints(bytes, cuts)
        expect(said.refused).toEqual([])
        expect(said.points.map(comparable)).toEqual(lines.map(([point]) => comparable(point)))
      }),
      { numRuns: 400 },
    )
  })

  it('PointReader(any bytes, any cuts) gives the same as whole and accounts for every line', () => {
    const piece = fc.oneof(
      fc.uint8Array({ maxLength: 20 }).map((bytes) => Buffer.from(bytes)),
      fc
        .constantFrom('m f=1 1\n', 'm f="', '"', '\\', ',', '=', ' ', '\n', '\r', '#', 'é', '1i', ',t=')
        .map((s) => Buffer.from(s)),
    )
    const sizes = fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1, maxLength: 4 })
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 25 }), sizes, (pieces, cuts) => {
        const bytes = Buffer.concat(pieces)
        const whole = readPoints(bytes, [bytes.length + 1])
        expect(readPoints(bytes, cuts)).toEqual(whole)
        const again = readPoints(
          Buffer.from(whole.points.map((point) => `${formatPoint(point)}\n`).join('')),
          [4096],
        )
        expect(again.points).toEqual(whole.points)
      }),
      { numRuns: 600 },
    )
  })

  it.each<readonly [PointToFormat, RegExp]>([
    [{ measurement: '', fields: { f: 1 }, timeNs: null }, /an empty measurement/],
    [{ measurement: '#m', fields: { f: 1 }, timeNs: null }, /read as a comment/],
    [{ measurement: 'm\\', fields: { f: 1 }, timeNs: null }, /ends with a backslash/],
    [{ measurement: 'm', tags: { t: '' }, fields: { f: 1 }, timeNs: null }, /an empty tag value/],
    [
      { measurement: 'm', tags: { t: 'a\nb' }, fields: { f: 1 }, timeNs: null },
      /control character in tag value/,
    ],
    [{ measurement: 'm', fields: {}, timeNs: null }, /needs a field/],
    [{ measurement: 'm', fields: { f: Number.NaN }, timeNs: null }, /field f is NaN/],
    [{ measurement: 'm', fields: { f: 2n ** 63n }, timeNs: null }, /beyond 64 bits/],
    [{ measurement: 'm', fields: { f: '\ud800' }, timeNs: null }, /not valid text/],
    [{ measurement: 'm', fields: { f: 1 }, timeNs: 2n ** 63n }, /time 9223372036854775808 is beyond 64 bits/],
    [{ measurement: 'm', fields: { f: 1 }, timeNs: -(2n ** 63n) - 1n }, /beyond 64 bits/],
    [
      { measurement: 'm', fields: { f: -(2n ** 63n) - 1n }, timeNs: null },
      /field f: -9223372036854775809 is/,
    ],
    ...[2n ** 64n, -1n].map((value) => {
      const point = {
        measurement: 'm',
        fields: [{ key: 'f', type: 'unsigned' as const, value }],
        timeNs: null,
      }
      return [point, /field f: .* is beyond 64 bits/] as const
    }),
    ...['measurement', 'tag key', 'tag value', 'field key'].flatMap((what) => {
      const point = (name: string) => ({
        measurement: what === 'measurement' ? name : 'm',
        tags: { [what === 'tag key' ? name : 't']: what === 'tag value' ? name : 'v' },
        fields: { [what === 'field key' ? name : 'f']: 1 },
        timeNs: null,
      })
      return [
        [point(''), new RegExp(`^an empty ${what}$`)] as const,
        [point('a\x7fb'), new RegExp(`^a control character in ${what} "a.b"$`)] as const,
        [point('a b\\'), new RegExp(`^${what} "a b.*" ends with a backslash$`)] as const,
        [point('\udc00'), new RegExp(`^${what} ".*" is not valid text$`)] as const,
      ]
    }),
  ])('formatPoint(%#) throws a RangeError for what line protocol cannot say', (point, message) => {
    expect(() => formatPoint(point)).toThrow(RangeError)
    expect(() => formatPoint(point)).toThrow(message)
  })
})

describe('cross-checks', () => {
  it('PointReader reads what the encoder of @influxdata/influxdb-client writes', () => {
    // The client converts signed integers through a double: only those exact in a double can be compared.
    const sayable = arbitraryPoint.map((point) => ({
      ...point,
      fields: point.fields.map((field): Field => {
        return field.type === 'integer' ? { ...field, value: BigInt.asIntN(53, field.value) } : field
      }),
    }))
    fc.assert(
      fc.property(sayable, (point) => {
        const theirs = new ClientPoint(point.measurement)
        for (const [key, value] of Object.entries(point.tags)) theirs.tag(key, value)
        for (const { key, type, value } of point.fields) {
          if (type === 'float') theirs.floatField(key, value)
          else if (type === 'integer') theirs.intField(key, String(value))
          else if (type === 'unsigned') theirs.uintField(key, String(value))
          else if (type === 'boolean') theirs.booleanField(key, value)
          else theirs.stringField(key, value)
        }
        theirs.timestamp(point.timeNs ?? '1')
        const line = theirs.toLineProtocol()!
        const expected = {
          ...point,
          timeNs: point.timeNs ?? '1',
          // The client sorts fields by name and writes -0 as 0.
          fields: [...point.fields]
            .sort((a, b) => (a.key < b.key ? -1 : 1))
            .map((field): Field => (field.type === 'float' ? { ...field, value: field.value + 0 } : field)),
        }
        expect(comparable(readOne(line))).toEqual(comparable(expected))
      }),
      { numRuns: 500 },
    )
  })

  it('PointReader agrees with influx-line-protocol-parser on plain lines', () => {
    const word = fc.stringMatching(/^[a-z][a-z0-9_]{0,6}$/)
    const number = fc.integer({ min: -999_999, max: 999_999 }).map((n) => n / 1000)
    const plain = fc.record({
      measurement: word,
      tags: fc.dictionary(word, word, { maxKeys: 3 }),
      fields: fc.dictionary(word, number, { minKeys: 1, maxKeys: 4 }),
      timeNs: fc.integer({ min: 1, max: 2 ** 40 }).map(String),
    })
    fc.assert(
      fc.property(plain, (point) => {
        const line = formatPoint(point)
        const ours = readOne(line)
        const theirs = parseWithNpm(line)
        expect(theirs.measurement).toBe(ours.measurement)
        expect(Object.assign({}, ...theirs.tags)).toEqual({ ...ours.tags })
        expect(Object.assign({}, ...theirs.fields)).toEqual(
          Object.fromEntries(ours.fields.map(({ key, value }) => [key, value])),
        )
        expect(String(theirs.timestamp)).toBe(ours.timeNs)
      }),
      { numRuns: 300 },
    )
  })
})
