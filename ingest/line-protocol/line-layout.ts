import type { Point } from './point.ts'

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
  /** Layout of the line that followed last time, by index. */
  next: number
}

/**
 * Learns the layout of a line already read as `point`: null unless it is plain, that is without escapes and strings
 * and with single spaces, so that its bytes can be compared as they stand.
 */
export function learnLayout(
  line: string,
  point: Point,
  columnsOf: (key: string) => readonly number[],
  sequenceKeys: readonly string[],
): LineLayout | null {
  const plain = /^([^\s"\\]+) ([^\s"\\]+) \d+\r?\n?$/.exec(line)
  if (plain === null) return null
  if (point.fields.some(({ type }) => type === 'string' || type === 'boolean')) return null
  const [, head] = plain
  const fields = point.fields.map(({ key }) => ({
    raw: Buffer.from(`${key}=`),
    columns: columnsOf(key),
    isSequence: sequenceKeys.includes(key),
  }))
  return { head: Buffer.from(`${head} `), series: head, fields, next: 0 }
}

/** Do the lines of two layouts have the same bytes between their numbers? */
export function looksLike(a: LineLayout, b: LineLayout): boolean {
  const same = (x: Uint8Array, y: Uint8Array) => x.length === y.length && x.every((byte, i) => byte === y[i])
  return (
    same(a.head, b.head) &&
    a.fields.length === b.fields.length &&
    a.fields.every((field, i) => same(field.raw, b.fields[i].raw))
  )
}
