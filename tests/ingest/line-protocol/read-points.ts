import type { Point, Precision, Refusal } from '#ingest/line-protocol/point.ts'
import { PointReader } from '#ingest/line-protocol/point-reader.ts'

/** All events of a reader, by kind and in order. */
export interface Said {
  readonly points: Point[]
  readonly refused: (Refusal & { readonly bytes: string })[]
  readonly comments: string[]
}

/** Reads bytes in pieces of the given sizes, repeated. */
export function readPoints(bytes: Uint8Array, sizes: readonly number[], precision: Precision = 'ns'): Said {
  const said: Said = { points: [], refused: [], comments: [] }
  const reader = new PointReader(
    {
      point: (point) => said.points.push(point),
      refused: (refusal, line) =>
        said.refused.push({ ...refusal, bytes: Buffer.from(line).toString('latin1') }),
      comment: (text) => said.comments.push(text),
    },
    precision,
  )
  let at = 0
  for (let k = 0; at < bytes.length; k++) {
    const size = sizes[k % sizes.length]
    reader.push(bytes.subarray(at, at + size))
    at += size
  }
  reader.end()
  return said
}
