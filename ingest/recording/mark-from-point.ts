import { type MarkMaker, markMakers } from '#analysis/model/origin.ts'
import { type Mark, type MarkKind, markKinds } from '#analysis/model/samples.ts'
import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import type { Point } from '#ingest/line-protocol/point.ts'

const kinds: ReadonlySet<string | undefined> = new Set(markKinds)

/** Measurement of marks. */
export const markMeasurement = 'mark'

/**
 * A mark in a logger's lines is attributed to the logger, whatever its `from` tag: the point and its line. Null for
 * what line protocol reads but cannot write, such as a name that ends in a backslash.
 */
export function loggersOwn<P extends Point>(point: P): { readonly point: P; readonly line: string } | null {
  const own = { ...point, tags: { ...point.tags, from: 'logger' } }
  try {
    return { point: own, line: formatPoint(own) }
  } catch (error) {
    if (error instanceof RangeError) return null
    throw error
  }
}

/**
 * A point of the measurement `mark` as a mark; null when its kind is unknown. Tags other than kind, id and hold
 * are kept among the fields.
 *
 * @param startNs the recording's start, [ns]
 */
export function markFromPoint(point: Point & { readonly timeNs: string }, startNs: bigint): Mark | null {
  const { kind, id = null, hold = null, from, ...tags } = point.tags
  if (!kinds.has(kind)) return null
  const fields: [string, string | number | boolean][] = Object.entries(tags)
  for (const { key, value } of point.fields) {
    // An integer too long for a double stays text: no digit is lost.
    if (typeof value !== 'bigint') fields.push([key, value])
    else fields.push([key, Number.isSafeInteger(Number(value)) ? Number(value) : String(value)])
  }
  return {
    timeNs: point.timeNs,
    timeS: Number(BigInt(point.timeNs) - startNs) / 1e9,
    kind: kind as MarkKind,
    id,
    hold,
    ...(markMakers.includes(from as MarkMaker) ? { from: from as MarkMaker } : {}),
    fields: Object.fromEntries(fields),
  }
}
