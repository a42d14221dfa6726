import { newline, space } from './ascii.ts'
import { type Point, seriesOf } from './point.ts'

/** One field of a layout: its name as bytes with the `=`, and where its number goes. */
export interface LayoutField {
  readonly raw: Uint8Array
  /** Indices of the columns that take the number; usually one or none. */
  readonly columns: readonly number[]
  /** The field numbers the logger's lines. */
  readonly isSequence: boolean
}

/** How the lines of one logger look: the bytes that repeat, and what stands between them. */
export interface LineLayout {
  /** Measurement and tags with the space that ends them. */
  readonly head: Uint8Array
  readonly series: string
  readonly fields: readonly LayoutField[]
  /** Layout of the line that followed last time. */
  next: LineLayout
}

/** A name that is written as it is, without escapes. */
const plainName = /^[^\s"\\,=]+$/

/** The layout of lines such as that of `point`: null unless all names stand in them as they are. */
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
  const fields = point.fields.map(({ key }) => ({
    raw: Buffer.from(`${key}=`),
    columns: columnsOf(key),
    isSequence: sequenceKeys.includes(key),
  }))
  const layout = { head: Buffer.from(`${series} `), series, fields } as Omit<LineLayout, 'next'> as LineLayout
  layout.next = layout
  return layout
}

/** Of the bytes up to the first space. */
export function headHash(bytes: Uint8Array, at: number): number {
  let hash = 0
  for (let i = at; i < bytes.length; i++) {
    const c = bytes[i]
    if (c === space || c === newline) break
    hash = (Math.imul(hash, 31) + c) | 0
  }
  return hash
}

/** Do the lines of two layouts have the same bytes between their values? */
export function looksLike(a: LineLayout, b: LineLayout): boolean {
  const same = (x: Uint8Array, y: Uint8Array) => Buffer.compare(x, y) === 0
  return (
    same(a.head, b.head) &&
    a.fields.length === b.fields.length &&
    a.fields.every((field, i) => same(field.raw, b.fields[i].raw))
  )
}
