import { newline, space } from './ascii.ts'
import { type Point, seriesOf } from './point.ts'

/** One field of a layout. */
export interface LayoutField {
  /** Where its name ends in the text of the layout, with the `=`. */
  readonly to: number
  /** Indices of the columns that take the number; usually one or none. */
  readonly columns: readonly number[]
  /** Whether the field is the logger's line number. */
  readonly isSequence: boolean
}

/** Layout of a logger's lines: the repeated bytes and the values between them. */
export interface LineLayout {
  /** The repeated bytes: measurement and tags with the space after them, then the names of the fields. */
  readonly text: Uint8Array
  readonly headTo: number
  readonly series: string
  readonly fields: readonly LayoutField[]
  /** Layout of the line that followed last time: the prediction for the next. */
  next: LineLayout
}

/** A name that needs no escapes. */
const plainName = /^[^\s"\\,=]+$/

/** The layout of lines such as that of `point`; null when a name needs an escape. */
export function learnLayout(
  point: Point,
  columnsOf: (key: string) => readonly number[],
  sequenceKeys: readonly string[],
): LineLayout | null {
  const names = [
    point.measurement,
    ...Object.entries(point.tags).flat(),
    ...point.fields.map(({ key }) => key),
  ]
  if (!names.every((name) => plainName.test(name))) return null
  const series = seriesOf(point)
  let text = `${series} `
  const headTo = Buffer.byteLength(text)
  const fields = point.fields.map(({ key }) => {
    text += `${key}=`
    return { to: Buffer.byteLength(text), columns: columnsOf(key), isSequence: sequenceKeys.includes(key) }
  })
  const layout = { text: Buffer.from(text), headTo, series, fields } as Omit<LineLayout, 'next'> as LineLayout
  layout.next = layout
  return layout
}

/** Hash of the bytes up to the first space. */
export function headHash(bytes: Uint8Array, at: number): number {
  let hash = 0
  for (let i = at; i < bytes.length; i++) {
    const c = bytes[i]
    if (c === space || c === newline) break
    hash = (Math.imul(hash, 31) + c) | 0
  }
  return hash
}

/** Whether two layouts have the same bytes between their values: each plain name ends with the next space, comma or `=`. */
export function looksLike(a: LineLayout, b: LineLayout): boolean {
  return Buffer.compare(a.text, b.text) === 0
}
