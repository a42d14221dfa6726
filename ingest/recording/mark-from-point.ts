import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { Point } from '#ingest/line-protocol/point.ts'

const kinds: ReadonlySet<string> = new Set<MarkKind>([
  'stage',
  'valve',
  'work',
  'look',
  'note',
  'gap',
  'fault',
  'clock',
  'zero',
  'stroke',
  'plug',
  'fill',
  'check',
  'supply',
  'correction',
])

/** Measurement of the points that are marks. */
export const markMeasurement = 'mark'

/**
 * A point of the measurement `mark` as a mark; null when its kind is none this program knows. Tags beside kind, id
 * and hold are kept among the fields.
 *
 * @param startNs the recording's start, [ns]
 */
export function markFromPoint(point: Point & { readonly timeNs: string }, startNs: bigint): Mark | null {
  const { kind, id = null, hold = null, ...tags } = point.tags
  if (kind === undefined || !kinds.has(kind)) return null
  const fields: [string, string | number | boolean][] = Object.entries(tags)
  for (const { key, value } of point.fields) {
    // An integer too long for a number stays text: no digit is lost.
    if (typeof value !== 'bigint') fields.push([key, value])
    else fields.push([key, Number.isSafeInteger(Number(value)) ? Number(value) : String(value)])
  }
  return {
    timeNs: point.timeNs,
    timeS: Number(BigInt(point.timeNs) - startNs) / 1e9,
    kind: kind as MarkKind,
    id,
    hold,
    fields: Object.fromEntries(fields),
  }
}
