import { existsSync } from 'node:fs'
import { createRequire } from 'node:module'
import { fileURLToPath } from 'node:url'
import PDFDocument from 'pdfkit'

const require = createRequire(import.meta.url)
/** In the package of the fonts when run from the sources, beside the program after the build. */
function font(name: string): string {
  const file = `IBMPlexSans_${name}.ttf`
  const built = ['./fonts/', '../fonts/'].map((folder) =>
    fileURLToPath(new URL(folder + file, import.meta.url)),
  )
  return built.find(existsSync) ?? require.resolve(`@expo-google-fonts/ibm-plex-sans/${name}/${file}`)
}

/** Font files by face. Reading a file dominates the time of a page, so there are few, each read once a document. */
const faces = {
  light: font('300Light'),
  regular: font('400Regular'),
  medium: font('500Medium'),
  slanted: font('400Regular_Italic'),
} as const

export type Face = keyof typeof faces

/** Inks of the printed page: near-black text, grey for explanations, one color for each verdict beside its word. */
export const ink = {
  text: '#1c2429',
  soft: '#5b676e',
  hair: '#c8d0d4',
  wash: '#f0f3f4',
  faint: '#9fadb5',
  pass: '#1c6b50',
  fail: '#9b2d22',
  undecided: '#84600b',
  void: '#4d585f',
} as const

/** A4, [pt]. */
export const page = { width: 595.28, height: 841.89, left: 54, right: 541.28, top: 46, bottom: 782 } as const
export const contentWidth = page.right - page.left

export interface TextStyle {
  readonly face?: Face
  readonly size?: number
  readonly color?: string
  readonly align?: 'left' | 'right' | 'center'
  readonly lineGap?: number
}

export interface SheetInfo {
  readonly title: string
  readonly subject: string
  readonly date: Date
  readonly creator: string
  /** Version of this program: a difference in drawing under the same version is a change. */
  readonly writer: string
  /** Small line at the foot of each page. */
  readonly foot: string
}

/**
 * A PDF in progress: a cursor that moves down the page, text with measured height, and the document for vector drawing.
 * The file is a subset of PDF/A-3b with embedded fonts and fixed dates: the same content gives the same bytes.
 */
export class Sheet {
  readonly doc: PDFKit.PDFDocument
  /** Next free line, [pt] from the top. */
  y: number = page.top
  readonly #foot: string
  readonly #chunks: Buffer[] = []
  readonly #done: Promise<Uint8Array>
  #pages = 0

  constructor(info: SheetInfo) {
    this.doc = new PDFDocument({
      subset: 'PDF/A-3b',
      pdfVersion: '1.7',
      lang: 'en',
      displayTitle: true,
      font: faces.regular,
      size: [page.width, page.height],
      margin: 0,
      autoFirstPage: false,
      bufferPages: true,
      info: {
        Title: info.title,
        Subject: info.subject,
        Creator: info.creator,
        Producer: `stillhold ${info.writer}`.trimEnd(),
        CreationDate: info.date,
        ModDate: info.date,
      },
    } as PDFKit.PDFDocumentOptions)
    this.#foot = info.foot
    this.#done = new Promise((resolve, reject) => {
      this.doc.on('data', (chunk: Buffer) => this.#chunks.push(chunk))
      this.doc.on('end', () => resolve(Buffer.concat(this.#chunks)))
      this.doc.on('error', reject)
    })
    this.newPage()
  }

  newPage(): void {
    this.doc.addPage()
    this.#pages++
    this.y = page.top
  }

  /** Begins a new page when the next item would not fit. */
  need(height: number): void {
    if (this.y + height > page.bottom) this.newPage()
  }

  /** Writes text at a position and returns the y below it; the cursor does not move. */
  text(text: string, x: number, y: number, width: number, style: TextStyle = {}): number {
    this.#set(style).fillColor(style.color ?? ink.text)
    this.doc.text(text, x, y, textOptions(width, style))
    return this.doc.y
  }

  /** Text over the whole width at the cursor, which moves below it and `after` more, [pt]. */
  paragraph(text: string, style: TextStyle = {}, after = 0): void {
    this.need(this.height(text, contentWidth, style))
    this.y = this.text(text, page.left, this.y, contentWidth, style) + after
  }

  /** One line without wrapping; returns its width. */
  line(text: string, x: number, y: number, style: TextStyle = {}): number {
    const width = this.widthOf(text, style)
    this.doc.fillColor(style.color ?? ink.text)
    const shift = style.align === 'right' ? width : style.align === 'center' ? width / 2 : 0
    this.doc.text(text, x - shift, y, { lineBreak: false })
    return width
  }

  height(text: string, width: number, style: TextStyle = {}): number {
    return this.#set(style).heightOfString(text, textOptions(width, style))
  }

  widthOf(text: string, style: TextStyle = {}): number {
    return this.#set(style).widthOfString(text)
  }

  stroke(weight: number, color: string, fromX: number, fromY: number, toX: number, toY: number): void {
    this.doc.lineWidth(weight).strokeColor(color).moveTo(fromX, fromY).lineTo(toX, toY).stroke()
  }

  rule(y: number, color: string = ink.hair, weight = 0.5): void {
    this.stroke(weight, color, page.left, y, page.right, y)
  }

  /** A small heading with a hairline over it, at the cursor, on a page with at least this much space, [pt]. */
  heading(text: string, room = 0): void {
    this.need(room)
    this.rule(this.y)
    this.y = this.text(text, page.left, this.y + 7, contentWidth, { face: 'medium', size: 9.5 }) + 5
  }

  attach(name: string, type: string, description: string, bytes: Uint8Array, date: Date): void {
    this.doc.file(Buffer.from(bytes), {
      name,
      type,
      description,
      creationDate: date,
      modifiedDate: date,
      relationship: 'Source',
    } as PDFKit.Mixins.PDFAttachmentOptions)
  }

  finish(): Promise<Uint8Array> {
    for (let i = 0; i < this.#pages; i++) {
      this.doc.switchToPage(i)
      const style: TextStyle = { size: 7, color: ink.soft }
      this.line(this.#foot, page.left, 796, style)
      this.line(`${i + 1} of ${this.#pages}`, page.right, 796, { ...style, align: 'right' })
    }
    this.doc.end()
    return this.#done
  }

  #set({ face = 'regular', size = 9 }: TextStyle): PDFKit.PDFDocument {
    return this.doc.font(faces[face]).fontSize(size)
  }
}

function textOptions(width: number, style: TextStyle): PDFKit.Mixins.TextOptions {
  return {
    width,
    align: style.align ?? 'left',
    lineGap: style.lineGap ?? 1,
  }
}
