import { deflateSync } from 'node:zlib'
import { checkPdfSeal, type PdfFile, type PdfObject, readPdf } from '#dashboard/archive/pdf-file.ts'

/** Objects of a PDF under the hands of a forger; `build` writes them with a table of places that fits. */
export class ForgedPdf {
  readonly objects: Map<number, PdfObject>
  trailer: string

  constructor(sealed: Uint8Array) {
    const file: PdfFile = readPdf(checkPdfSeal(sealed).unsealed)
    this.objects = new Map(file.objects)
    this.trailer = file.trailer
  }

  /** Number of the first object whose dictionary matches. */
  find(pattern: RegExp): number {
    for (const [number, { dictionary }] of this.objects) if (pattern.test(dictionary)) return number
    throw new Error(`no object matches ${pattern}`)
  }

  change(pattern: RegExp, change: (dictionary: string) => string): this {
    const number = this.find(pattern)
    const object = this.objects.get(number)!
    this.objects.set(number, { ...object, dictionary: change(object.dictionary) })
    return this
  }

  /** Adds an object with a stream of these bytes, or without one; returns its number. */
  add(dictionary: string, content: string | null = null): number {
    const number = this.objects.size + 1
    this.objects.set(number, { dictionary, packed: null })
    if (content !== null) this.setContent(number, Buffer.from(content, 'latin1'))
    return number
  }

  setContent(number: number, content: Uint8Array): void {
    const { dictionary } = this.objects.get(number)!
    const packed = deflateSync(content)
    const without = dictionary.replaceAll(/^\/(Length \d+|Filter .*)\n/gm, '').replace(/\n>>$/, '')
    this.objects.set(number, {
      dictionary: `${without}\n/Length ${packed.length}\n/Filter /FlateDecode\n>>`,
      packed,
    })
  }

  build(between = ''): Buffer {
    const parts: Buffer[] = [Buffer.from('%PDF-1.7\n%\xff\xff\xff\xff\n', 'latin1')]
    const places: number[] = []
    let at = parts[0].length
    const put = (bytes: Buffer) => {
      parts.push(bytes)
      at += bytes.length
    }
    for (const [number, { dictionary, packed }] of this.objects) {
      places[number] = at
      put(Buffer.from(`${number} 0 obj\n${dictionary}\n`, 'latin1'))
      if (packed) put(Buffer.concat([Buffer.from('stream\n'), packed, Buffer.from('\nendstream\n')]))
      put(Buffer.from(`endobj\n${between}`))
    }
    const rows = places.slice(1).map((place) => `${String(place).padStart(10, '0')} 00000 n \n`)
    const trailer = this.trailer.replace(/\/Size \d+/, `/Size ${this.objects.size + 1}`)
    const table = `xref\n0 ${this.objects.size + 1}\n0000000000 65535 f \n${rows.join('')}`
    put(Buffer.from(`${table}trailer\n${trailer}\nstartxref\n${at}\n%%EOF\n`, 'latin1'))
    return Buffer.concat(parts)
  }
}
