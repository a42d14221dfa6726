import { inflateSync } from 'node:zlib'
import { PDFArray, PDFDict, PDFDocument, PDFHexString, PDFName, PDFRawStream, PDFString } from 'pdf-lib'
import { mostUnpackedBytes } from './most-attached.ts'

/** Drawing instructions of one page, [bytes]: a page of curves has some hundred thousand. */
const mostPageBytes = 16e6

export interface Attachment {
  readonly name: string
  readonly bytes: Uint8Array
}

/**
 * Objects packed into streams, and tables of contents that are streams: no certificate of this program has any, and
 * unpacking them would be out of our hands. A name may be spelled with its letters in hexadecimal.
 */
const packedObjects = new RegExp(`/(${['ObjStm', 'XRef'].map(anySpelling).join('|')})(?![A-Za-z])`)

/**
 * Takes the attached files out of a PDF, a limited number of bytes in all.
 *
 * @throws Error in one plain sentence when the PDF cannot be read; what was sealed is then not there to be checked.
 */
export async function readAttachments(pdf: Uint8Array): Promise<Attachment[]> {
  const document = await load(pdf)
  const files = document.catalog.lookupMaybe(PDFName.of('Names'), PDFDict)
  const tree = files?.lookupMaybe(PDFName.of('EmbeddedFiles'), PDFDict)
  const names = tree?.lookupMaybe(PDFName.of('Names'), PDFArray)
  const attachments: Attachment[] = []
  let leftBytes = mostUnpackedBytes
  for (let i = 0; names !== undefined && i + 1 < names.size(); i += 2) {
    const spec = names.lookup(i + 1, PDFDict)
    const name = spec.lookup(PDFName.of('UF')) ?? spec.lookup(PDFName.of('F'))
    const stream = spec.lookup(PDFName.of('EF'), PDFDict).lookup(PDFName.of('F'))
    if (!(name instanceof PDFString || name instanceof PDFHexString) || !(stream instanceof PDFRawStream)) {
      throw new Error('an attachment of it is not a plain file')
    }
    const bytes = unpack(stream, leftBytes)
    leftBytes -= bytes.byteLength
    attachments.push({ name: name.decodeText(), bytes })
  }
  return attachments
}

/** The drawing instructions of each page, unpacked: what is seen, whatever way the file was compressed. */
export async function readPageContents(pdf: Uint8Array): Promise<string[]> {
  const document = await load(pdf)
  return document.getPages().map((each) => {
    const contents = each.node.Contents()
    const streams =
      contents instanceof PDFArray ? contents.asArray().map((_, i) => contents.lookup(i)) : [contents]
    return streams
      .map((stream) => {
        if (!(stream instanceof PDFRawStream)) throw new Error('a page of it has no plain content')
        return Buffer.from(unpack(stream, mostPageBytes)).toString('latin1')
      })
      .join('\n')
  })
}

async function load(pdf: Uint8Array): Promise<PDFDocument> {
  if (packedObjects.test(Buffer.from(pdf.buffer, pdf.byteOffset, pdf.byteLength).toString('latin1')))
    throw new Error('it is packed in a way that no certificate is')
  try {
    return await PDFDocument.load(pdf, { updateMetadata: false, throwOnInvalidObject: true })
  } catch (cause) {
    throw new Error(`it cannot be read as a PDF: ${oneLine(cause)}`)
  }
}

function unpack(stream: PDFRawStream, mostBytes: number): Uint8Array {
  const tooLarge = () =>
    new Error(
      `its attachments unpack to more than ${Math.floor(mostUnpackedBytes / 1e6)} MB, which no certificate has`,
    )
  const filter = stream.dict.lookup(PDFName.of('Filter'))
  if (filter === undefined) {
    if (stream.contents.byteLength > mostBytes) throw tooLarge()
    return stream.contents
  }
  if (filter !== PDFName.of('FlateDecode')) throw new Error(`a part of it is packed as ${filter}`)
  try {
    return inflateSync(stream.contents, { maxOutputLength: Math.max(1, mostBytes) })
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ERR_BUFFER_TOO_LARGE') throw tooLarge()
    throw new Error(`a part of it cannot be unpacked: ${oneLine(cause)}`)
  }
}

function anySpelling(name: string): string {
  const hex = (letter: string) => letter.charCodeAt(0).toString(16)
  return [...name].map((letter) => `(?:${letter}|#${hex(letter)}|#${hex(letter).toUpperCase()})`).join('')
}

function oneLine(cause: unknown): string {
  return String(cause instanceof Error ? cause.message : cause)
    .replace(/\s+/g, ' ')
    .slice(0, 200)
}
