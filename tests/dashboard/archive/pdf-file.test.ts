import { deflateSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { foreignPart, pdfDifference } from '#dashboard/archive/compare-pdf.ts'
import { attachmentsOf, infoOf, type PdfFile, readPdf, unpacked } from '#dashboard/archive/pdf-file.ts'

const header = Buffer.from('%PDF-1.7\n%\xff\xff\xff\xff\n', 'latin1')

/** A PDF of two objects, one with a stream, as text of one byte a character; `objects` replaces them. */
function pdf(objects = ['1 0 obj\n<<\n/Type /Catalog\n>>\nendobj\n', stream(2, 'abc')]): string {
  let text = header.toString('latin1')
  const places = objects.map((object) => {
    const at = text.length
    text += object
    return at
  })
  const rows = places.map((place) => `${String(place).padStart(10, '0')} 00000 n \n`).join('')
  const table = `xref\n0 ${objects.length + 1}\n0000000000 65535 f \n${rows}`
  return `${text}${table}trailer\n<<\n/Root 1 0 R\n>>\nstartxref\n${text.length}\n%%EOF\n`
}
function stream(number: number, content: string, length = `/Length ${content.length}`): string {
  return `${number} 0 obj\n<<\n${length}\n>>\nstream\n${content}\nendstream\nendobj\n`
}
const catalog = '1 0 obj\n<<\n/Type /Catalog\n>>\nendobj\n'
const read = (text: string) => readPdf(Buffer.from(text, 'latin1'))

describe('readPdf()', () => {
  it('reads objects, streams and the trailer of what this program writes', () => {
    const { objects, trailer } = read(pdf())
    expect([...objects.keys()]).toEqual([1, 2])
    expect(objects.get(1)).toEqual({ dictionary: '<<\n/Type /Catalog\n>>', packed: null })
    expect(Buffer.from(objects.get(2)!.packed!).toString()).toBe('abc')
    expect(trailer).toBe('<<\n/Root 1 0 R\n>>')
  })

  const whole = pdf()
  /** A changed object, with a table of its places as they are. */
  const built = (change: (text: string) => string) => pdf([catalog, stream(2, 'abc')].map(change))
  it.each<[string, string]>([
    ['another header', whole.replace('1.7', '1.4')],
    ['nothing', ''],
    ['an object 0', whole.replace('1 0 obj', '0 0 obj')],
    ['a revision of an object', whole.replace('1 0 obj', '1 1 obj')],
    ['a word before an object', built((text) => text.replace('1 0 obj', 'x1 0 obj'))],
    ['a word behind the number of an object', built((text) => text.replace('1 0 obj', '1 0 objx'))],
    ['an object twice', pdf([catalog, stream(1, 'abc')])],
    ['an object left out', pdf([catalog, stream(3, 'abc')])],
    ['a stream without its length', pdf([catalog, stream(2, 'abc', '/Size 3')])],
    ['a stream with two lengths', pdf([catalog, stream(2, 'abc', '/Length 3\n/Length 3')])],
    ['a stream longer than the file', pdf([catalog, stream(2, 'abc', '/Length 99999')])],
    ['a stream shorter than it says', pdf([catalog, stream(2, 'abc', '/Length 4')])],
    ['a stream longer than it says', pdf([catalog, stream(2, 'abc', '/Length 2')])],
    ['words behind a stream', built((text) => text.replace('endstream\n', 'endstream\nx\n'))],
    ['a stream that does not end', built((text) => text.replace('endstream\n', 'endstrea\n'))],
    ['an object that does not end', whole.replace('endobj\nxref', 'xref')],
    ['a line between two objects', built((text) => text.replace('2 0 obj', '% x\n2 0 obj'))],
    ['a table of another size', whole.replace('0 3\n', '0 2\n')],
    ['a table without its first row', whole.replace('0000000000 65535 f \n', '')],
    ['a place that leads elsewhere', whole.replace(/^\d{10} 00000 n $/m, '0000000016 00000 n ')],
    ['no trailer', whole.replace('trailer\n', '')],
    ['another place of the table', whole.replace(/startxref\n\d+/, 'startxref\n15')],
    ['another end', whole.replace('%%EOF', '%%EOX')],
    ['an end without a line end', whole.slice(0, -1)],
    ['a byte behind the end', `${whole}\n`],
  ])('refuses %s', (_, text) => {
    expect(() => read(text)).toThrow(/^at byte \d+ it is not built as this program builds a PDF$/)
  })

  it('takes dictionaries of 4 MB, in one line or many, and refuses a byte more', () => {
    const one = (bytes: number) => pdf([`1 0 obj\n${'x'.repeat(bytes)}\nendobj\n`])
    const many = (bytes: number) => pdf([`1 0 obj\n${'x'.repeat(2e6)}\n${'x'.repeat(bytes - 2e6)}\nendobj\n`])
    for (const made of [one, many]) {
      expect(read(made(4e6)).objects.size).toBe(1)
      expect(() => read(made(4e6 + 1))).toThrow(/not built as/)
    }
  })
})

describe('unpacked()', () => {
  const packed = (content: Uint8Array) => ({
    dictionary: '<<\n/Filter /FlateDecode\n>>',
    packed: deflateSync(content),
  })
  it('gives the content of a stream, packed or not, up to its limit, 16 MB where none is given', () => {
    expect(Buffer.from(unpacked(packed(Buffer.from('abc')))).toString()).toBe('abc')
    expect(unpacked({ dictionary: '<<\n>>', packed: Buffer.from('abc') }, 3)).toEqual(Buffer.from('abc'))
    expect(unpacked(packed(Buffer.alloc(16e6))).byteLength).toBe(16e6)
    expect(unpacked(packed(Buffer.alloc(0)), 0).byteLength).toBe(0)
  })
  it.each<[string, Parameters<typeof unpacked>[0], number | undefined, string]>([
    [
      'more than 16 MB',
      packed(Buffer.alloc(16e6 + 1)),
      undefined,
      'a part of it unpacks to more than the 16000000 bytes it may have',
    ],
    [
      'more than its limit, not packed',
      { dictionary: '<<\n>>', packed: Buffer.from('abcd') },
      3,
      'a part of it unpacks to more than the 3 bytes it may have',
    ],
    [
      'noise',
      { ...packed(Buffer.alloc(1)), packed: Buffer.from('abc') },
      9,
      'a part of it cannot be unpacked',
    ],
    [
      'another packing',
      { dictionary: '<<\n/Filter /LZWDecode\n>>', packed: Buffer.from('abc') },
      9,
      'a part of it is packed as /LZWDecode',
    ],
    [
      'no content',
      { dictionary: '<<\n>>', packed: null },
      9,
      'a part of it that should have content has none',
    ],
  ])('refuses %s', (_, object, most, message) => {
    expect(() => unpacked(object, most)).toThrow(message)
  })
})

/** Objects by number: a dictionary, or a dictionary and its content. */
function made(
  objects: Readonly<Record<number, string | [string, string]>>,
  trailer = 'T',
  level = 6,
): PdfFile {
  const all = Object.entries(objects).map(([number, object]) => {
    const [dictionary, content] = typeof object === 'string' ? [object, null] : object
    const packed = content === null ? null : deflateSync(Buffer.from(content, 'latin1'), { level })
    const packing = packed ? `\n/Length ${packed.length}\n/Filter /FlateDecode` : ''
    return [Number(number), { dictionary: `<<\n${dictionary}${packing}\n>>`, packed }] as const
  })
  return { objects: new Map(all), trailer }
}

const page = (content: string, other = 'font'): PdfFile =>
  made({ 1: '/Type /Page\n/Contents 2 0 R', 2: ['/Kind /Page', content], 3: ['/Kind /Font', other] })

describe('pdfDifference()', () => {
  const whole = page('1 0 0 1 50.25 700 cm BT (pass) Tj ET')
  const drawn = (content: string) => page(content.replace('ITS', '1 0 0 1 50.25 700 cm BT'))
  it.each<[string, PdfFile, string | null]>([
    ['itself', whole, null],
    [
      'one packed more tightly',
      {
        ...whole,
        objects: made(
          {
            1: '/Type /Page\n/Contents 2 0 R',
            2: ['/Kind /Page', '1 0 0 1 50.25 700 cm BT (pass) Tj ET'],
            3: ['/Kind /Font', 'font'],
          },
          'T',
          0,
        ).objects,
      },
      null,
    ],
    ['another name of the file', { ...whole, trailer: 'T\n/ID [<12>]' }, 'its trailer differs'],
    ['places rounded by another processor', drawn('1 0 0 1 50.29 699.96 cm BT (pass) Tj ET'), null],
    ['places further away', drawn('1 0 0 1 50.31 700 cm BT (pass) Tj ET'), 'a page differs'],
    ['another word', drawn('ITS (fail) Tj ET'), 'a page differs'],
    ['a word more', drawn('ITS (pass) Tj ET ET'), 'a page differs'],
    ['a word less', drawn('ITS (pass) Tj'), 'a page differs'],
    ['another font', page('1 0 0 1 50.25 700 cm BT (pass) Tj ET', 'tnof'), 'its object 3 has other content'],
    [
      'figures of a font',
      page('1 0 0 1 50.25 700 cm BT (pass) Tj ET', '1'),
      'its object 3 has other content',
    ],
    ['an object less', made({ 1: '/Type /Page\n/Contents 2 0 R' }), 'it has 1 objects, not 3'],
    [
      'an object of another number',
      { ...whole, objects: new Map([...whole.objects].map(([n, one]) => [n === 3 ? 4 : n, one])) },
      'its object 3 differs',
    ],
    [
      'another dictionary',
      {
        ...whole,
        objects: new Map(whole.objects).set(1, { dictionary: '<<\n/Type /Page\n>>', packed: null }),
      },
      'its object 1 differs',
    ],
    [
      'a stream removed',
      { ...whole, objects: new Map(whole.objects).set(3, { ...whole.objects.get(3)!, packed: null }) },
      'its object 3 differs',
    ],
    [
      'a stream added',
      {
        ...whole,
        objects: new Map(whole.objects).set(1, { ...whole.objects.get(1)!, packed: Buffer.from('x') }),
      },
      'its object 1 differs',
    ],
  ])('of a page and %s', (_, there, difference) => {
    expect(pdfDifference(there, whole)).toBe(difference)
  })
  it('ignores the name of the file, which follows from the bytes', () => {
    const named = (id: string) => ({ ...whole, trailer: `<<\n/ID [<${id}>]\n>>` })
    expect(pdfDifference(named('12'), named('34'))).toBeNull()
    expect(pdfDifference({ ...whole, trailer: '<<\n/ID [<1>] /Encrypt 1\n>>' }, named('34'))).toBe(
      'its trailer differs',
    )
  })
})

describe('foreignPart()', () => {
  const drawn = (content: string) =>
    foreignPart(made({ 1: '/Type /Page\n/Contents 2 0 R', 2: ['/Length 1', content] }, '<<\n/Root 1 0 R\n>>'))
  const named = (dictionary: string) => foreignPart(made({ 1: dictionary }, ''))
  it.each([
    ['/Type /Pages\n/MediaBox [0 0 595 842]', null],
    ['/F9 1 0 R', null],
    ['/BaseFont /ABCDEF+IBMPlexSans-Medium', null],
    ['/Title (a /Launch in a text \\( \\\\)', null],
    ['/BaseFont /ABCDEF+IBMPlexSans-Bold', '/ABCDEF?IBMPlexSans-Bold'],
    ['/BaseFont /ABCDE+IBMPlexSans-Medium', '/ABCDE?IBMPlexSans-Medium'],
    ['/F0 1 0 R', '/F0'],
    ['/F10 1 0 R', '/F10'],
    ['/Annots []', '/Annots'],
    ['/#41nnots []', '/#41nnots'],
    [`/${'x'.repeat(60)} 1`, `/${'x'.repeat(40)}`],
    ['/Title (a text', 'a text in it that does not end'],
    ['/Title a text)', 'a text in it that does not end'],
    ['/Title (a text \\)', 'a text in it that does not end'],
    ['/Title (a (text)', 'a text in it that does not end'],
  ])('of the dictionary %j is %j', async (dictionary, part) => {
    expect(await named(dictionary)).toBe(part)
  })
  it('looks at the trailer too', async () => {
    expect(await foreignPart(made({ 1: '/Type /Page' }, '<<\n/Encrypt 1 0 R\n>>'))).toBe('/Encrypt')
  })
  it.each([
    ['q 1 0 0 -1 .5 +842 cm /DeviceRGB cs 0 0 0 scn [<41ff> 120 <42>] TJ /F1 9 Tf Q', null],
    ['/F10 9 Tf', 'the drawing instruction F10'],
    ['/xF1 9 Tf', 'the drawing instruction xF1'],
    ['/DeviceCMYK cs', 'the drawing instruction DeviceCMYK'],
    ['/X1 Do', 'the drawing instruction X1'],
    ['1 1 Do', 'the drawing instruction Do'],
    ['BI ID EI', 'the drawing instruction BI'],
    ['(Do) Tj', null],
    ['(Do', 'a text on a page that does not end'],
  ])('of the page %j is %j', async (content, part) => {
    expect(await drawn(content)).toBe(part)
  })
  it('refuses a page without content', async () => {
    for (const dictionary of ['/Type /Page', '/Type /Page\n/Contents 7 0 R'])
      expect(await foreignPart(made({ 1: dictionary }, ''))).toBe('a page without content')
  })
})

describe('attachmentsOf() and infoOf()', () => {
  const spec = (name: string, at = 2) => `/Type /Filespec\n/EF <<\n/F ${at} 0 R\n>>\n/UF (${name})`
  it('names the attached files', () => {
    const file = made({ 1: spec('0001-left@a+/=.json'), 2: ['/Type /EmbeddedFile', 'abc'] })
    expect(attachmentsOf(file)).toEqual([{ name: '0001-left@a+/=.json', packed: file.objects.get(2) }])
  })
  it.each([
    spec('a b'),
    spec('a.json', 7),
    '/Type /Filespec\n/UF (a.json)',
    spec('a.json').replace('/UF', '/F'),
  ])('refuses %j', (dictionary) => {
    const file = made({ 1: dictionary, 2: ['/Type /EmbeddedFile', 'abc'] })
    expect(() => attachmentsOf(file)).toThrow('a file is attached to it in a foreign way')
  })
  it('reads a plain text of Info, and no other', () => {
    const info = (text: string, trailer = '<<\n/Info 1 0 R\n>>'): PdfFile => ({
      objects: new Map([
        [1, { dictionary: '<<\n/Producer 2 0 R\n>>', packed: null }],
        [2, { dictionary: text, packed: null }],
      ]),
      trailer,
    })
    expect(infoOf(info('(stillhold 1.2)'), 'Producer')).toBe('stillhold 1.2')
    expect(infoOf(info('(stillhold 1.2)'), 'Creator')).toBeNull()
    expect(infoOf(info('(stillhold 1.2)', '<<\n>>'), 'Producer')).toBeNull()
    for (const text of ['(a \\(b)', '(a) /X', 'x(a)', '<41>'])
      expect(infoOf(info(text), 'Producer')).toBeNull()
  })
})
