/** One field of a point. 64-bit integers are exact; signed and unsigned stay distinct. */
export type Field =
  | { readonly key: string; readonly type: 'float'; readonly value: number }
  | { readonly key: string; readonly type: 'integer' | 'unsigned'; readonly value: bigint }
  | { readonly key: string; readonly type: 'string'; readonly value: string }
  | { readonly key: string; readonly type: 'boolean'; readonly value: boolean }

/** One point of line protocol. */
export interface Point {
  readonly measurement: string
  /** Without prototype, so that a tag may have any name. Shared between points of one series: never changed. */
  readonly tags: Readonly<Record<string, string>>
  /** At least one, in the order written. */
  readonly fields: readonly Field[]
  /** Epoch nanoseconds as decimal text, exact; null when the line has none. */
  readonly timeNs: string | null
}

/** Measurement and tags as one text. */
export function seriesOf({ measurement, tags }: Point): string {
  let key = measurement
  for (const tag in tags) key += `,${tag}=${tags[tag]}`
  return key
}

/** No logger sends more fields, and each field costs memory. */
export const mostFields = 1024

/** Unit of the timestamps, named as in the write protocol. */
export type Precision = 'ns' | 'us' | 'ms' | 's'

/** Why a line is not a point, and where: line of the file and column, both from 1. */
export interface Refusal {
  readonly line: number
  readonly column: number
  /** One plain sentence without line and column. */
  readonly cause: string
}
