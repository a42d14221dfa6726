import { type PdfFile, type PdfObject, readPdf, unpacked } from '../pdf-file.ts'
import { type Face, Sheet } from './sheet.ts'

interface EmbeddedFont {
  readonly name: string
  /** The characters of its glyphs, in their order. */
  readonly characters: readonly string[]
  /** The complete font data that a viewer reads. */
  readonly parts: readonly string[]
}

const faceOf: Readonly<Record<string, Face>> = {
  'IBMPlexSans-Light': 'light',
  'IBMPlexSans-Regular': 'regular',
  'IBMPlexSans-Medium': 'medium',
  'IBMPlexSans-Italic': 'slanted',
}

/**
 * Whether the fonts of a PDF are this program's: embedding the same characters in the same order gives the same
 * bytes. A forged font could show shapes that differ from its text.
 */
export async function fontsAreOurs(file: PdfFile): Promise<boolean> {
  const fonts = fontsOf(file)
  if (fonts === null) return false
  const sheet = new Sheet({ title: '', subject: '', date: new Date(0), creator: '', writer: '', foot: '' })
  for (const { name, characters } of fonts)
    for (const character of characters.slice(1)) sheet.line(character, 0, 0, { face: faceOf[name] })
  const ours = fontsOf(readPdf(await sheet.finish())) ?? []
  return fonts.every((font) => {
    const own = ours.find(({ name }) => name === font.name)
    return own?.parts.every((part, i) => part === font.parts[i]) === true
  })
}

/** Null when a font has a foreign structure. */
function fontsOf({ objects }: PdfFile): EmbeddedFont[] | null {
  const at = (object: PdfObject | undefined, key: string): PdfObject | undefined =>
    objects.get(Number(new RegExp(`^/${key} \\[?(\\d+) 0 R\\]?$`, 'm').exec(object?.dictionary ?? '')?.[1]))
  const found: EmbeddedFont[] = []
  for (const font of objects.values()) {
    if (!/^\/Subtype \/Type0$/m.test(font.dictionary)) continue
    const name = /^\/BaseFont \/[A-Z]{6}\+(\S+)$/m.exec(font.dictionary)?.[1] ?? ''
    const descendant = at(font, 'DescendantFonts')
    const descriptor = at(descendant, 'FontDescriptor')
    const [map, shapes] = [at(font, 'ToUnicode'), at(descriptor, 'FontFile2')]
    if (!Object.hasOwn(faceOf, name) || found.some((other) => other.name === name)) return null
    if (!descendant || !descriptor || !map || !shapes) return null
    const text = Buffer.from(unpacked(map)).toString('latin1')
    const entries = /\[(.*)\]/.exec(text)?.[1]?.match(/<[0-9a-f ]*>/g) ?? []
    const plain = (object: PdfObject) =>
      object.dictionary.replaceAll(/\d+ 0 R|\/[A-Z]{6}\+|^\/Length \d+$/gm, '')
    found.push({
      name,
      characters: entries.map((entry) =>
        Buffer.from(entry.replaceAll(/[<> ]/g, ''), 'hex').swap16().toString('utf16le'),
      ),
      parts: [
        plain(font),
        plain(descendant),
        plain(descriptor),
        text,
        Buffer.from(unpacked(shapes)).toString('latin1'),
      ],
    })
  }
  return found
}
