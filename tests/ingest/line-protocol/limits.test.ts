import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { readPoints } from './read-points.ts'

/** Limits of a line that docs/loggers/dialects.md and grammar.ebnf state. */
const longestLineBytes = 65_536
const mostFields = 1024

describe('PointReader is bounded', () => {
  const long = `m f="${'x'.repeat(longestLineBytes)}" 1\n`

  it.each([[1_000_000], [4096], [1000], [7]])(
    'PointReader(a line over the limit, in pieces of %i) refuses it in pieces and continues',
    (size) => {
      const said = readPoints(Buffer.from(`m f=1 1\n${long}m f=2 2\n`), [size])
      expect(said.points.map(({ timeNs }) => timeNs)).toEqual(['1', '2'])
      expect(said.refused.map(({ line, cause }) => [line, cause])).toEqual([
        [2, `the line is longer than ${longestLineBytes} bytes`],
        [2, 'rest of the line'],
      ])
      expect(said.refused.map(({ bytes }) => bytes).join('')).toBe(long.trimEnd())
    },
  )

  it('PointReader(a line of exactly the limit) reads it', () => {
    const text = `m f="${'x'.repeat(longestLineBytes - 8)}" 1\n`
    expect(text.length - 1).toBe(longestLineBytes)
    for (const size of [1_000_000, 4096, 7]) {
      expect(readPoints(Buffer.from(text), [size]).points).toHaveLength(1)
    }
  })

  // '€' takes three bytes, so 21,842 of them and a few letters are the longest line.
  it.each([
    ['ASCII', 65_528, 'x', 65_529],
    ['three-byte characters', 21_842, '€', 21_843],
  ])(
    'PointReader(a line of %s) counts bytes: one within the limit is read, one beyond is refused',
    (_, most, unit, more) => {
      const line = (count: number) => `m f="${unit.repeat(count)}" 1\n`
      for (const other of ['', 'm f=1 2\n', 'm f="\xff" 2\n']) {
        const bytes = (count: number) =>
          Buffer.concat([Buffer.from(line(count)), Buffer.from(other, 'latin1')])
        expect(readPoints(bytes(most), [1_000_000]).points[0].timeNs).toBe('1')
        const { points, refused } = readPoints(bytes(more), [1_000_000])
        expect(points.filter(({ timeNs }) => timeNs === '1')).toEqual([])
        expect(refused[0]).toMatchObject({ line: 1, column: 1, cause: 'the line is longer than 65536 bytes' })
      }
    },
  )

  it.each([
    ['256 line ends', 'x\n'.repeat(256), 'x\n'.repeat(257)],
    [
      '65,536 characters with a line end',
      `${'x'.repeat(32_767)}\n`.repeat(2),
      `${'x'.repeat(32_767)}\n`.repeat(2).concat('x'),
    ],
  ])('PointReader(a string of %s) reads it; with one more the line costs itself only', (_, most, more) => {
    const after = 'm f=2 2\n'
    const text = (string: string) => Buffer.from(`m f="${string}" 1\n${after}`)
    for (const sizes of [[1_000_000], [10_000]]) {
      expect(readPoints(text(most), sizes).points.map(({ timeNs }) => timeNs)).toEqual(['1', '2'])
      const { points, refused } = readPoints(text(more), sizes)
      expect(points.map(({ timeNs }) => timeNs)).toEqual(['2'])
      expect(refused[0]).toMatchObject({
        ...{ line: 1, column: 5 },
        cause: 'the string is not closed within 256 lines and 65536 characters',
      })
    }
  })

  it('PointReader(a megabyte without a newline) passes on all of it, piece by piece', () => {
    const bytes = Buffer.alloc(1_000_000, 'A')
    for (const size of [1_000_000, 999]) {
      const said = readPoints(bytes, [size])
      expect(said.refused.map(({ bytes: piece }) => piece).join('')).toBe(bytes.toString())
    }
  })

  it('PointReader(an open string over many lines, then a line over the limit) loses no line', () => {
    const text = `m f="a\nb\n${long}m f=2 2\n`
    const whole = readPoints(Buffer.from(text), [text.length])
    expect(whole.points.map(({ timeNs }) => timeNs)).toEqual(['2'])
    for (const size of [4096, 1000]) {
      const said = readPoints(Buffer.from(text), [size])
      expect(said.points).toEqual(whole.points)
      expect(said.refused.map(({ bytes }) => bytes).join('')).toBe(
        whole.refused.map(({ bytes }) => bytes).join(''),
      )
    }
  })

  it('PointReader(a line with too many fields) refuses it; one with the maximum is read', () => {
    const line = (count: number) => `m ${Array.from({ length: count }, (_, n) => `f${n}=${n}`).join(',')} 1\n`
    const said = readPoints(Buffer.from(line(mostFields) + line(mostFields + 1)), [1_000_000])
    expect(said.points.map(({ fields }) => fields.length)).toEqual([mostFields])
    expect(said.refused.map(({ line, cause }) => [line, cause])).toEqual([
      [2, `more than ${mostFields} fields`],
    ])
  })

  it('PointReader(a field repeated far away) refuses the line', () => {
    const names = Array.from({ length: 100 }, (_, n) => `f${n}=1`).join(',')
    const said = readPoints(Buffer.from(`m ${names},f7=2 1\n`), [1000])
    expect(said.refused.map(({ cause }) => cause)).toEqual(['the field "f7" is repeated'])
  })

  it('PointReader(a time in any digits) reads its integer when 64 bits hold it in nanoseconds, and refuses the rest', () => {
    const written = fc.tuple(
      fc.bigInt({ min: -(2n ** 66n), max: 2n ** 66n }),
      fc.integer({ min: 0, max: 60 }),
      fc.integer({ min: 0, max: 3 }),
    )
    fc.assert(
      fc.property(written, fc.constantFrom('ns' as const, 'ms' as const), ([wide, bits, zeros], unit) => {
        const count = wide >> BigInt(bits)
        const sign = count < 0n ? '-' : ''
        const digits = `${'0'.repeat(zeros)}${count < 0n ? -count : count}`
        const ns = count * (unit === 'ms' ? 1_000_000n : 1n)
        const isHeld = ns >= -(2n ** 63n) && ns < 2n ** 63n
        const { points, refused } = readPoints(Buffer.from(`m f=1 ${sign}${digits}\n`), [1000], unit)
        expect(points.map(({ timeNs }) => timeNs)).toEqual(isHeld ? [String(ns)] : [])
        expect(refused.map(({ cause }) => cause)).toEqual(isHeld ? [] : ['the time is beyond 64 bits'])
      }),
      { numRuns: 3000 },
    )
  })
})
