import { inflateSync } from 'node:zlib'
import { PDFArray, PDFDict, PDFDocument, PDFHexString, PDFName, PDFRawStream, PDFString } from 'pdf-lib'

export interface Attachment {
  readonly name: string
  readonly bytes: Uint8Array
}

/** No attachment may unpack to more than this: far above a day's recording, far below a computer's memory. */
const mostBytes = 1 << 30

/**
 * Takes the attached files out of a PDF.
 *
 * @throws Error in one plain sentence when the PDF cannot be read; what was sealed is then not there to be checked.
 */
export async function readAttachments(pdf: Uint8Array): Promise<Attachment[]> {
  const document = await load(pdf)
  const files = document.catalog.lookupMaybe(PDFName.of('Names'), PDFDict)
  const tree = files?.lookupMaybe(PDFName.of('EmbeddedFiles'), PDFDict)
  const names = tree?.lookupMaybe(PDFName.of('Names'), PDFArray)
  const attachments: Attachment[] = []
  for (let i = 0; names !== undefined && i + 1 < names.size(); i += 2) {
    const spec = names.lookup(i + 1, PDFDict)
    const name = spec.lookup(PDFName.of('UF')) ?? spec.lookup(PDFName.of('F'))
    const stream = spec.lookup(PDFName.of('EF'), PDFDict).lookup(PDFName.of('F'))
    if (!(name instanceof PDFString || name instanceof PDFHexString) || !(stream instanceof PDFRawStream)) {
      throw new Error('an attachment of it is not a plain file')
    }
    attachments.push({ name: name.decodeText(), bytes: unpack(stream) })
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
        return Buffer.from(unpack(stream)).toString('latin1')
      })
      .join('\n')
  })
}

async function load(pdf: Uint8Array): Promise<PDFDocument> {
  try {
    return await PDFDocument.load(pdf, { updateMetadata: false, throwOnInvalidObject: true })
  } catch (cause) {
    throw new Error(`it cannot be read as a PDF: ${oneLine(cause)}`)
  }
}

function unpack(stream: PDFRawStream): Uint8Array {
  const filter = stream.dict.lookup(PDFName.of('Filter'))
  if (filter === undefined) return stream.contents
  if (filter !== PDFName.of('FlateDecode')) throw new Error(`a part of it is packed as ${filter}`)
  try {
    return inflateSync(stream.contents, { maxOutputLength: mostBytes })
  } catch (cause) {
    throw new Error(`a part of it cannot be unpacked: ${oneLine(cause)}`)
  }
}

function oneLine(cause: unknown): string {
  return String(cause instanceof Error ? cause.message : cause)
    .replace(/\s+/g, ' ')
    .slice(0, 200)
}
