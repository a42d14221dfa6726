import { inflateSync } from 'node:zlib'
import { type SigningKey, signatureHolds } from './signing-key.ts'

/** Maximum size of a report, [bytes]. */
export const mostPdfBytes = 300e6

/** Maximum unpacked size of drawing instructions, font or color profile, [bytes]: a page of curves has some 100,000. */
const mostPartBytes = 16e6

/** Maximum length of a dictionary that this program writes, [bytes]. */
const mostDictionaryBytes = 4e6

const header = Buffer.from('%PDF-1.7\n%\xff\xff\xff\xff\n', 'latin1')

export interface PdfObject {
  /** Everything between `obj` and `endobj` except the stream. */
  readonly dictionary: string
  /** The stream as stored in the file; null for an object without one. */
  readonly packed: Uint8Array | null
}

export interface PdfFile {
  readonly objects: ReadonlyMap<number, PdfObject>
  readonly trailer: string
}

/**
 * Parses a PDF as this program writes it, byte by byte: header, plain objects in sequence, one cross-reference
 * table, trailer, end. No bytes may come between, before or after, so that no viewer can find another file in it than
 * the checked one. Every other PDF is refused.
 *
 * @param pdf without its seal
 * @throws Error in one plain sentence
 */
export function readPdf(pdf: Uint8Array): PdfFile {
  const bytes = Buffer.from(pdf.buffer, pdf.byteOffset, pdf.byteLength)
  const wrong = (at: number) => new Error(`at byte ${at} it is not built as this program builds a PDF`)
  let at = header.length
  if (!bytes.subarray(0, at).equals(header)) throw wrong(0)

  const line = (): string => {
    const end = bytes.indexOf(10, at)
    if (end < 0 || end - at > mostDictionaryBytes) throw wrong(at)
    const text = bytes.toString('latin1', at, end)
    at = end + 1
    return text
  }
  const expectLine = (expected: string): void => {
    const from = at
    if (line() !== expected) throw wrong(from)
  }

  const objects = new Map<number, PdfObject>()
  const places: number[] = []
  for (;;) {
    const from = at
    const opening = line()
    if (opening === 'xref') break
    const number = Number(/^([1-9]\d{0,6}) 0 obj$/.exec(opening)?.[1] ?? 0)
    if (number === 0 || objects.has(number)) throw wrong(from)
    places[number] = from
    const lines: string[] = []
    let packed: Uint8Array | null = null
    for (let length = 0; ; ) {
      const text = line()
      if (text === 'endobj') break
      if (text === 'stream') {
        const lengths = [...lines.join('\n').matchAll(/^\/Length (\d{1,9})$/gm)]
        const size = Number(lengths[0]?.[1])
        if (lengths.length !== 1) throw wrong(at)
        packed = bytes.subarray(at, at + size)
        at += size
        expectLine('')
        expectLine('endstream')
        expectLine('endobj')
        break
      }
      lines.push(text)
      length += text.length
      if (length > mostDictionaryBytes) throw wrong(at)
    }
    objects.set(number, { dictionary: lines.join('\n'), packed })
  }
  const table = at - 'xref\n'.length
  expectLine(`0 ${objects.size + 1}`)
  expectLine('0000000000 65535 f ')
  for (let number = 1; number <= objects.size; number++) {
    if (places[number] === undefined) throw wrong(at)
    expectLine(`${String(places[number]).padStart(10, '0')} 00000 n `)
  }
  expectLine('trailer')
  const trailer: string[] = []
  for (let text = line(); text !== 'startxref'; text = line()) trailer.push(text)
  expectLine(String(table))
  expectLine('%%EOF')
  if (at !== bytes.length) throw wrong(at)
  return { objects, trailer: trailer.join('\n') }
}

/** @throws Error when the stream is not packed by deflate, or unpacks to more than `mostBytes` */
export function unpacked({ dictionary, packed }: PdfObject, mostBytes: number = mostPartBytes): Uint8Array {
  if (packed === null) throw new Error('a part of it that should have content has none')
  const filter = /^\/Filter (.*)$/m.exec(dictionary)?.[1]
  if (filter !== undefined && filter !== '/FlateDecode')
    throw new Error(`a part of it is packed as ${filter}`)
  const tooLarge = () => new Error(`a part of it unpacks to more than the ${mostBytes} bytes it may have`)
  if (filter === undefined) {
    if (packed.byteLength > mostBytes) throw tooLarge()
    return packed
  }
  try {
    return inflateSync(packed, { maxOutputLength: Math.max(1, mostBytes) })
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ERR_BUFFER_TOO_LARGE') throw tooLarge()
    throw new Error('a part of it cannot be unpacked')
  }
}

export interface Attachment {
  readonly name: string
  readonly packed: PdfObject
}

/** The attached files of a report, still packed. @throws Error when the attachment differs from this program's form */
export function attachmentsOf({ objects }: PdfFile): Attachment[] {
  const attachments: Attachment[] = []
  for (const { dictionary } of objects.values()) {
    if (!/^\/Type \/Filespec$/m.test(dictionary)) continue
    const name = /^\/UF \(([\w.@+/=-]+)\)$/m.exec(dictionary)?.[1]
    const file = objects.get(Number(/^\/EF <<\n\/F (\d+) 0 R\n>>$/m.exec(dictionary)?.[1]))
    if (name === undefined || file === undefined) throw new Error('a file is attached to it in a foreign way')
    attachments.push({ name, packed: file })
  }
  return attachments
}

/** Text of an entry of `Info`, such as `Producer`; null when it has none in plain letters. */
export function infoOf({ objects, trailer }: PdfFile, key: string): string | null {
  const info = objects.get(Number(/^\/Info (\d+) 0 R$/m.exec(trailer)?.[1]))
  const place = Number(new RegExp(`^/${key} (\\d+) 0 R$`, 'm').exec(info?.dictionary ?? '')?.[1])
  return /^\(([^()\\]*)\)$/.exec(objects.get(place)?.dictionary ?? '')?.[1] ?? null
}

/**
 * The seal of a test report is one comment line of the PDF, just before `startxref`:
 *
 *   % stillhold-seal <public key, base64> <Ed25519 signature, base64>
 *
 * The signature covers all the file's bytes without that line (and its line end). Every other byte of the file is
 * therefore protected, and checking needs no PDF parser.
 */
const marker = '% stillhold-seal '
const anchor = 'startxref'

export interface SealCheck {
  readonly state: 'holds' | 'broken' | 'none'
  readonly publicKey: string | null
  readonly unsealed: Uint8Array
}

export function sealPdf(pdf: Uint8Array, key: SigningKey): Uint8Array {
  const bytes = Buffer.from(pdf)
  const at = bytes.lastIndexOf(anchor)
  if (at < 0) throw new RangeError('not a PDF: it has no startxref')
  const line = Buffer.from(`${marker}${key.public.base64} ${key.sign(bytes)}\n`, 'latin1')
  return Buffer.concat([bytes.subarray(0, at), line, bytes.subarray(at)])
}

export function checkPdfSeal(pdf: Uint8Array): SealCheck {
  const bytes = Buffer.from(pdf)
  const at = bytes.lastIndexOf(`\n${marker}`, undefined, 'latin1')
  const end = at < 0 ? -1 : bytes.indexOf('\n', at + 1)
  if (at < 0 || end < 0) return { state: 'none', publicKey: null, unsealed: bytes }
  const line = bytes.subarray(at + 1, end).toString('latin1')
  const parts = /^% stillhold-seal ([A-Za-z0-9+/=]{44}) ([A-Za-z0-9+/=]{88})$/.exec(line)
  const isInPlace = bytes.subarray(end + 1, end + 1 + anchor.length).toString('latin1') === anchor
  const unsealed = Buffer.concat([bytes.subarray(0, at + 1), bytes.subarray(end + 1)])
  if (parts === null || !isInPlace) return { state: 'broken', publicKey: null, unsealed }
  const [, publicKey = '', signature = ''] = parts
  return { state: signatureHolds(publicKey, unsealed, signature) ? 'holds' : 'broken', publicKey, unsealed }
}
