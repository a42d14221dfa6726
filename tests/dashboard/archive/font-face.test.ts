import { createRequire } from 'node:module'
import { describe, expect, it } from 'vitest'
import { FontFace } from '#dashboard/archive/page/font-face.ts'

const require = createRequire(import.meta.url)
/** The reference: another reader of fonts, which applies all their layout tables. */
const fontkit = require('fontkit')

const faces = [
  ['300Light', 'IBMPlexSans-Light'],
  ['400Regular', 'IBMPlexSans-Regular'],
  ['500Medium', 'IBMPlexSans-Medium'],
  ['400Regular_Italic', 'IBMPlexSans-Italic'],
].map(([name, postscriptName]) => {
  const file = require.resolve(`@expo-google-fonts/ibm-plex-sans/${name}/IBMPlexSans_${name}.ttf`)
  return [postscriptName, new FontFace(file, postscriptName!), fontkit.openSync(file)] as const
})

const between = (first: number, last: number) =>
  Array.from({ length: last - first + 1 }, (_, k) => String.fromCodePoint(first + k))
const ascii = between(0x20, 0x7e)
const symbols = [...'°·±×–—‘’“”…µ²³≤≥−Δ']

const run = (font: Pick<FontFace, 'layout'>, text: string) => {
  const { glyphs, positions } = font.layout(text)
  return glyphs.map(({ id, codePoints, advanceWidth }, k) =>
    [id, codePoints, advanceWidth, positions[k]!.xAdvance].join(' '),
  )
}

describe.each(faces)('FontFace(%s), against fontkit', (_, face, reference) => {
  it.each([
    ['letters, digits and signs', [...ascii, ...symbols]],
    ['accented letters', [...between(0xc0, 0xff), ...'T7.']],
    ['Greek', [...between(0x391, 0x3a1), ...between(0x3b1, 0x3c9), ...'7.']],
    ['Cyrillic', [...between(0x410, 0x44f), ...'7.']],
  ])('layout(text) sets each pair of %s alike, with kerning and the ligature fi', (_script, characters) => {
    for (const left of characters) {
      const pairs = characters.map((right) => left + right)
      expect(pairs.map((pair) => run(face, pair).join())).toEqual(
        pairs.map((pair) => run(reference, pair).join()),
      )
    }
  })

  it.each([...'א漢😀'])(
    'layout(%s), a character that the face lacks, gives the missing glyph',
    (character) => {
      expect(face.layout(character).glyphs[0]!.id).toBe(reference.layout(character).glyphs[0].id)
    },
  )

  it('has the same measures', () => {
    const measures = [
      'unitsPerEm',
      'ascent',
      'descent',
      'lineGap',
      'xHeight',
      'capHeight',
      'italicAngle',
    ] as const
    for (const name of ['postscriptName', ...measures] as const) expect(face[name]).toBe(reference[name])
    expect(face.bbox).toEqual({ ...reference.bbox })
    expect(face.head.macStyle.italic).toBe(reference.head.macStyle.italic)
    expect(face.post.isFixedPitch).toBe(reference.post.isFixedPitch === 1)
    expect(face['OS/2'].sFamilyClass).toBe(reference['OS/2'].sFamilyClass)
  })

  it('createSubset().encode() gives the same font file, parts of compound glyphs included', () => {
    const [own, other] = [face.createSubset(), reference.createSubset()]
    for (const character of [...'Hölðåf∆½…', ...ascii]) {
      const { id } = face.layout(character).glyphs[0]!
      expect(own.includeGlyph(id)).toBe(other.includeGlyph(id))
    }
    expect(own.encode().equals(other.encode())).toBe(true)
  })
})

describe('FontFace.layout', () => {
  const [[, face]] = faces as [(typeof faces)[number]]

  it('sets a letter and its combining accent as the accented letter (Unicode, normalization form C)', () => {
    expect(run(face, 'Zu\u0308rich')).toEqual(run(face, 'Z\u00fcrich'))
  })

  it('leaves out what Unicode calls default ignorable', () => {
    expect(run(face, 'tank\u00ad\u200bside\ufeff')).toEqual(run(face, 'tankside'))
  })
})
