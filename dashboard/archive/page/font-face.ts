import { readFileSync } from 'node:fs'

/** A glyph of a text, with the fields that the PDF writer reads. */
interface Glyph {
  readonly id: number
  readonly advanceWidth: number
  readonly codePoints: readonly number[]
}

/**
 * A TrueType face of the test report, in the shape in which the PDF writer takes a font: widths and kerning of a text,
 * and a font file of the glyphs used. It reads what these faces have of OpenType: characters of the basic plane,
 * horizontal kerning of pairs, and the one ligature fi.
 */
export class FontFace {
  readonly unitsPerEm: number
  readonly ascent: number
  readonly descent: number
  readonly lineGap: number
  readonly xHeight: number
  readonly capHeight: number
  readonly italicAngle: number
  readonly bbox: Readonly<Record<'minX' | 'minY' | 'maxX' | 'maxY', number>>
  readonly head: { readonly macStyle: { readonly italic: boolean } }
  readonly post: { readonly isFixedPitch: boolean }
  readonly 'OS/2': { readonly sFamilyClass: number }
  readonly #tables = new Map<string, Buffer>()
  readonly #glyphs = new Map<number, Glyph>()
  readonly #pairLookups: readonly (readonly number[])[]

  constructor(
    file: string,
    readonly postscriptName: string,
  ) {
    const bytes = readFileSync(file)
    for (let at = 12; at < 12 + 16 * bytes.readUInt16BE(4); at += 16) {
      const offset = bytes.readUInt32BE(at + 8)
      const table = bytes.subarray(offset, offset + bytes.readUInt32BE(at + 12))
      this.#tables.set(bytes.toString('latin1', at, at + 4), table)
    }
    const [head, hhea] = [this.#table('head'), this.#table('hhea')]
    this.unitsPerEm = head.readUInt16BE(18)
    const [minX, minY] = [head.readInt16BE(36), head.readInt16BE(38)]
    this.bbox = { minX, minY, maxX: head.readInt16BE(40), maxY: head.readInt16BE(42) }
    this.head = { macStyle: { italic: (head.readUInt16BE(44) & 2) !== 0 } }
    this.ascent = hhea.readInt16BE(4)
    this.descent = hhea.readInt16BE(6)
    this.lineGap = hhea.readInt16BE(8)
    const [os2, post] = [this.#table('OS/2'), this.#table('post')]
    this['OS/2'] = { sFamilyClass: os2.readInt16BE(30) }
    this.xHeight = os2.readInt16BE(86)
    this.capHeight = os2.readInt16BE(88)
    this.italicAngle = post.readInt32BE(4) / 65536
    this.post = { isFixedPitch: post.readUInt32BE(12) !== 0 }
    this.#pairLookups = pairLookups(this.#table('GPOS'))
  }

  /** Glyphs of a text from left to right; each advance includes the kerning to the next glyph. */
  layout(text: string) {
    const glyphs: Glyph[] = []
    const composed = /\p{Mark}/u.test(text) ? text.normalize('NFC') : text
    for (const character of composed.replaceAll(/\p{Default_Ignorable_Code_Point}/gu, '')) {
      const glyph = this.#glyphOf(character.codePointAt(0)!)
      const before = glyphs.at(-1)
      if (character === 'i' && before?.codePoints.toString() === letterF) {
        const codePoints = [...before.codePoints, ...glyph.codePoints]
        glyphs.splice(-1, 1, { ...this.#glyphOf(ligatureFi), codePoints })
      } else glyphs.push(glyph)
    }
    const positions = glyphs.map(({ id, advanceWidth }, k) => {
      const next = glyphs[k + 1]
      const xAdvance = advanceWidth + (next === undefined ? 0 : this.#kerning(id, next.id))
      return { xAdvance, yAdvance: 0, xOffset: 0, yOffset: 0 }
    })
    return { glyphs, positions, advanceWidth: positions.reduce((sum, { xAdvance }) => sum + xAdvance, 0) }
  }

  getGlyph(id: number): Glyph {
    return { id, advanceWidth: this.#metric(id).readUInt16BE(0), codePoints: [] }
  }

  createSubset(): FontSubset {
    return new FontSubset(
      (tag) => this.#table(tag),
      (id) => this.#metric(id),
    )
  }

  #table(tag: string): Buffer {
    const table = this.#tables.get(tag)
    if (table === undefined) throw new RangeError(`${this.postscriptName} has no table ${tag}`)
    return table
  }

  /** Advance and left bearing. */
  #metric(id: number): Buffer {
    return this.#table('hmtx').subarray(4 * id, 4 * id + 4)
  }

  #glyphOf(codePoint: number): Glyph {
    const known = this.#glyphs.get(codePoint)
    if (known !== undefined) return known
    const glyph = { ...this.getGlyph(glyphIn(this.#table('cmap'), codePoint)), codePoints: [codePoint] }
    this.#glyphs.set(codePoint, glyph)
    return glyph
  }

  /** Each lookup adds the value of its first subtable that has the pair. */
  #kerning(left: number, right: number): number {
    let total = 0
    for (const subtables of this.#pairLookups)
      for (const subtable of subtables) {
        const value = pairValue(this.#table('GPOS'), subtable, left, right)
        if (value === null) continue
        total += value
        break
      }
    return total
  }
}

const letterF = '102'
const ligatureFi = 0xfb01

/** Glyph of a character by a character map of format 4; 0, the missing glyph, when the face lacks it. */
function glyphIn(cmap: Buffer, codePoint: number): number {
  let at = 0
  for (let k = 0; k < cmap.readUInt16BE(2) && cmap.readUInt16BE(at) !== 4; k++)
    at = cmap.readUInt32BE(8 + 8 * k)
  const span = cmap.readUInt16BE(at + 6)
  const ends = at + 14
  for (let end = ends; end < ends + span; end += 2) {
    if (cmap.readUInt16BE(end) < codePoint) continue
    const start = cmap.readUInt16BE(end + span + 2)
    if (start > codePoint) return 0
    const delta = cmap.readUInt16BE(end + 2 * span + 2)
    const rangeAt = end + 3 * span + 2
    const range = cmap.readUInt16BE(rangeAt)
    if (range === 0) return (codePoint + delta) & 0xffff
    const glyph = cmap.readUInt16BE(rangeAt + range + 2 * (codePoint - start))
    return glyph === 0 ? 0 : (glyph + delta) & 0xffff
  }
  return 0
}

/** Subtables of the pair lookups. Those of the scripts share no pair, so that a text of one script gets its own alone. */
function pairLookups(gpos: Buffer): readonly (readonly number[])[] {
  const listed = (at: number) =>
    Array.from({ length: gpos.readUInt16BE(at) }, (_, k) => gpos.readUInt16BE(at + 2 + 2 * k))
  const lookups = gpos.readUInt16BE(8)
  return listed(lookups)
    .map((lookup) => listed(lookups + lookup + 4).map((at) => lookups + lookup + at))
    .filter((extensions) => extensions.every((at) => gpos.readUInt16BE(at + 2) === 2))
    .map((extensions) => extensions.map((at) => at + gpos.readUInt32BE(at + 4)))
}

/** Kerning of a pair by one subtable, which holds a single advance a pair; null when it does not have the pair. */
function pairValue(gpos: Buffer, at: number, left: number, right: number): number | null {
  const u16 = (offset: number) => gpos.readUInt16BE(at + offset)
  const covered = indexIn(gpos, at + u16(2), left)
  if (covered === null) return null
  if (u16(0) === 2) {
    const [leftClass, rightClass] = [classIn(gpos, at + u16(8), left), classIn(gpos, at + u16(10), right)]
    return gpos.readInt16BE(at + 16 + 2 * (leftClass * u16(14) + rightClass))
  }
  const set = at + u16(10 + 2 * covered)
  for (let k = 0, pair = set + 2; k < gpos.readUInt16BE(set); k++, pair += 4)
    if (gpos.readUInt16BE(pair) === right) return gpos.readInt16BE(pair + 2)
  return null
}

/** Index of a glyph in a coverage table; null when it is not covered. */
function indexIn(gpos: Buffer, coverage: number, glyph: number): number | null {
  const isList = gpos.readUInt16BE(coverage) === 1
  for (let k = 0, at = coverage + 4; k < gpos.readUInt16BE(coverage + 2); k++, at += isList ? 2 : 6) {
    const first = gpos.readUInt16BE(at)
    if (first > glyph) return null
    if (isList && first === glyph) return k
    if (!isList && gpos.readUInt16BE(at + 2) >= glyph) return gpos.readUInt16BE(at + 4) + glyph - first
  }
  return null
}

/** Class of a glyph by ranges; 0 when none has it. */
function classIn(gpos: Buffer, classes: number, glyph: number): number {
  for (let k = 0, at = classes + 4; k < gpos.readUInt16BE(classes + 2); k++, at += 6)
    if (gpos.readUInt16BE(at) <= glyph && glyph <= gpos.readUInt16BE(at + 2)) return gpos.readUInt16BE(at + 4)
  return 0
}

/** The glyphs that a document uses, numbered in the order of their first use after the missing glyph. */
class FontSubset {
  readonly #ids = [0]

  constructor(
    readonly table: (tag: string) => Buffer,
    readonly metric: (id: number) => Buffer,
  ) {}

  includeGlyph(id: number): number {
    const known = this.#ids.indexOf(id)
    return known >= 0 ? known : this.#ids.push(id) - 1
  }

  /** A font file with the tables that the PDF standard asks for. */
  encode(): Buffer {
    const [glyf, loca] = [this.table('glyf'), this.table('loca')]
    const outlines: Buffer[] = []
    // Parts of compound glyphs are added while the list is walked.
    for (const id of this.#ids) {
      const [from, to] = [2 * loca.readUInt16BE(2 * id), 2 * loca.readUInt16BE(2 * id + 2)]
      outlines.push(this.#renumbered(Buffer.from(glyf.subarray(from, to))))
    }
    const places = Buffer.alloc(2 * outlines.length + 2)
    let end = 0
    for (const [k, { byteLength }] of outlines.entries()) {
      end += byteLength
      places.writeUInt16BE(end / 2, 2 * k + 2)
    }
    const changed = (tag: string, at: number, count: number) => {
      const table = Buffer.from(this.table(tag))
      table.writeUInt16BE(count, at)
      return table
    }
    const tables: readonly (readonly [string, Buffer])[] = [
      ['head', this.table('head')],
      ['hhea', changed('hhea', 34, outlines.length)],
      ['loca', places],
      ['maxp', changed('maxp', 4, outlines.length)],
      ['cvt ', this.table('cvt ')],
      ['prep', this.table('prep')],
      ['glyf', Buffer.concat(outlines)],
      ['hmtx', Buffer.concat(this.#ids.map((id) => this.metric(id)))],
      ['fpgm', this.table('fpgm')],
    ]
    const directory = Buffer.alloc(12 + 16 * tables.length)
    directory.write('true', 'latin1')
    // Nine tables: the largest power of two is 8, of exponent 3.
    for (const [k, count] of [tables.length, 8 * 16, 3, (tables.length - 8) * 16].entries())
      directory.writeUInt16BE(count, 4 + 2 * k)
    let offset = directory.byteLength
    for (const [k, [tag, { byteLength }]] of tables.entries()) {
      directory.write(tag, 12 + 16 * k, 'latin1')
      directory.writeUInt32BE(offset, 12 + 16 * k + 8)
      directory.writeUInt32BE(byteLength, 12 + 16 * k + 12)
      offset += byteLength
    }
    return Buffer.concat([directory, ...tables.map(([, table]) => table)])
  }

  /** An outline with the numbers of its parts in this subset. */
  #renumbered(outline: Buffer): Buffer {
    if (outline.byteLength === 0 || outline.readInt16BE(0) >= 0) return outline
    for (let at = 10, flags = 0x20; flags & 0x20; ) {
      flags = outline.readUInt16BE(at)
      outline.writeUInt16BE(this.includeGlyph(outline.readUInt16BE(at + 2)), at + 2)
      at += 4 + (flags & 1 ? 4 : 2) + (flags & 8 ? 2 : flags & 0x40 ? 4 : flags & 0x80 ? 8 : 0)
    }
    return outline
  }
}
