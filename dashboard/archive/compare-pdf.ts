import { fontsAreOurs } from './page/embedded-fonts.ts'
import { type PdfFile, unpacked } from './pdf-file.ts'

/**
 * The first visible difference of two PDFs, in words; null when there is none. Streams are compared unpacked, because
 * another machine may compress differently, and positions on a page within the rounding of different processors.
 */
export function pdfDifference(there: PdfFile, here: PdfFile): string | null {
  if (there.objects.size !== here.objects.size)
    return `it has ${there.objects.size} objects, not ${here.objects.size}`
  if (there.trailer.replace(idLine, '') !== here.trailer.replace(idLine, '')) return 'its trailer differs'
  const pages = contentsOf(here)
  for (const [number, object] of here.objects) {
    const other = there.objects.get(number)
    if (other === undefined || withoutLength(other.dictionary) !== withoutLength(object.dictionary))
      return `its object ${number} differs`
    if ((other.packed === null) !== (object.packed === null)) return `its object ${number} differs`
    if (object.packed === null || other.packed === null) continue
    const [a, b] = [Buffer.from(unpacked(other, mostBytes)), Buffer.from(unpacked(object, mostBytes))]
    if (a.equals(b)) continue
    if (!pages.has(number)) return `its object ${number} has other content`
    if (!samePage(a.toString('latin1'), b.toString('latin1'))) return 'a page differs'
  }
  return null
}

/** Names in the dictionaries of this program's PDFs. Any other could show content that the record does not have. */
const ourNames = new Set(
  `AF AFRelationship Adobe Ascent BaseFont CIDFontType2 CIDSystemInfo CIDToGIDMap CapHeight Catalog CheckSum ColorSpace
   Contents Count CreationDate Creator DescendantFonts Descent Desc DestOutputProfile Dests DisplayDocTitle EF EmbeddedFile
   EmbeddedFiles Encoding F Filespec Filter FlateDecode Flags Font FontBBox FontDescriptor FontFile2 FontName GTS_PDFA1 ID
   Identity Identity-H ImageB ImageC ImageI Info ItalicAngle Kids Lang Length MediaBox Metadata ModDate N Names Ordering
   OutputConditionIdentifier OutputIntent OutputIntents PDF Page Pages Parent Params ProcSet Producer Registry Resources Root
   S Size Source StemV Subject Subtype Supplement Text Title ToUnicode Type Type0 UF UserUnit ViewerPreferences W XHeight XML
   application#2Fjson length text#2Fplain`.split(/\s+/),
)
const ourNumberedNames = /^(?:F[1-9]|[A-Z]{6}\+IBMPlexSans-(?:Light|Regular|Medium|Italic))$/

/** Drawing operators of this program's pages: paths, colors, text. None of them draws another object. */
const ourOperators = new Set(
  'q Q cm w J j d M m l c v y h re S s f f* B B* b b* n W W* CS cs SC SCN sc scn G g RG rg K k BT ET Tf Tc Tw Tz TL Tr Ts Tm Td TD T* Tj TJ'.split(
    ' ',
  ),
)

/**
 * Content of a PDF that this program never writes, in words; null when there is none. For a report of another version,
 * whose pages cannot be redrawn: annotations, forms, scripts, foreign fonts and page boxes are still refused.
 */
export async function foreignPart(file: PdfFile): Promise<string | null> {
  for (const { dictionary } of [...file.objects.values(), { dictionary: file.trailer }]) {
    const names = withoutStrings(dictionary)
    if (names === null) return 'a text in it that does not end'
    for (const [, name = ''] of names.matchAll(/\/([^\s/<>[\]()]*)/g))
      if (!ourNames.has(name) && !ourNumberedNames.test(name)) return `/${printable(name)}`
  }
  for (const number of contentsOf(file)) {
    const object = file.objects.get(number)
    if (object === undefined) return 'a page without content'
    const drawn = withoutStrings(Buffer.from(unpacked(object)).toString('latin1'))
    if (drawn === null) return 'a text on a page that does not end'
    for (const [word] of drawn.replaceAll(/<[0-9a-f]*>/g, ' ').matchAll(/[^\s[\]<>/]+/g))
      if (!/^[-+.\d]/.test(word) && !/^(?:F\d|DeviceRGB|DeviceGray)$/.test(word) && !ourOperators.has(word))
        return `the drawing instruction ${printable(word)}`
  }
  return (await fontsAreOurs(file)) ? null : 'a font'
}

const mostBytes = 256e6
const idLine = /^\/ID \[.*\]$/m

const withoutLength = (dictionary: string): string => dictionary.replace(/^\/Length \d+$/m, '')

/** Numbers of the objects with the drawing instructions of pages. */
function contentsOf({ objects }: PdfFile): Set<number> {
  const found = new Set<number>()
  for (const { dictionary } of objects.values())
    if (/^\/Type \/Page$/m.test(dictionary))
      found.add(Number(/^\/Contents (\d+) 0 R$/m.exec(dictionary)?.[1] ?? 0))
  return found
}

/** Numbers may differ by the rounding of different processors; every word and instruction must be the same. */
function samePage(there: string, here: string): boolean {
  const [a, b] = [there.split(/\s+/), here.split(/\s+/)]
  if (a.length !== b.length) return false
  return a.every((token, i) => token === b[i] || Math.abs(Number(token) - Number(b[i])) < 0.05)
}

/** Text without its strings in parentheses; null when one does not end. */
function withoutStrings(text: string): string | null {
  let out = ''
  let depth = 0
  for (let i = 0; i < text.length; i++) {
    if (depth > 0 && text[i] === '\\') i++
    else if (text[i] === '(') depth++
    else if (text[i] === ')') {
      if (--depth < 0) return null
    } else if (depth === 0) out += text[i]
  }
  return depth === 0 ? out : null
}

const printable = (name: string): string => name.replaceAll(/[^\w#*'"-]/g, '?').slice(0, 40)
