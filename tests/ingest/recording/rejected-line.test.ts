import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { escapeBytes, rejectedLine, unescapeBytes } from '#ingest/recording/rejected-line.ts'

describe('rejectedLine', () => {
  it('rejectedLine(reason, bytes) is one printable comment line', () => {
    expect(
      rejectedLine('wrong baud rate', Buffer.from([0xff, 0x41, 0x0a, 0x09, 0x5c, 0x7f, 0xc3, 0xa9])),
    ).toBe('#! wrong baud rate: \\xffA\\n\\t\\\\\\x7fé')
  })

  it.each(['\u0080', '\u07ff', '\u0800', '\uffff', '\u{10000}', '\u{10ffff}'])(
    'escapeBytes(a byte that is not UTF-8, %j) keeps the character: first and last of each length (RFC 3629, section 3)',
    (character) => {
      expect(escapeBytes(Buffer.from([0xff, ...Buffer.from(character)]))).toBe(`\\xff${character}`)
    },
  )

  it('unescapeBytes(escapeBytes(any bytes)) are the bytes, and the text is one line', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 64 }), (bytes) => {
        const text = escapeBytes(bytes)
        return !/[\0-\x1f\x7f]/.test(text) && Buffer.from(unescapeBytes(text)).equals(Buffer.from(bytes))
      }),
    )
    const every = Uint8Array.from({ length: 256 }, (_, byte) => byte)
    for (const bytes of [every, every.subarray(0, 128), every.subarray(128), every.toReversed()])
      expect(unescapeBytes(escapeBytes(bytes))).toEqual(Buffer.from(bytes))
    const text = 'half line: 10.é\\'
    expect(Buffer.from(unescapeBytes(escapeBytes(Buffer.from(text)))).toString()).toBe(text)
  })
})
