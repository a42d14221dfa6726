import type { SeenField } from '#dashboard/api.ts'
import { type Point, seriesOf } from '#ingest/line-protocol/point.ts'

/** A stream with more different fields than this is broken; the rest is not listed. */
const fieldsAtMost = 500

/** Every number the loggers send, mapped or not, for the page where channels are set up. */
export class SeenFields {
  /** By measurement and tags, then by field. */
  readonly #series = new Map<string, Map<string, { point: Point; raw: number; timeS: number }>>()
  #count = 0

  update(point: Point, timeS: number): void {
    const series = seriesOf(point)
    let fields = this.#series.get(series)
    if (!fields) {
      if (this.#count >= fieldsAtMost || this.#series.size >= fieldsAtMost) return
      fields = new Map()
      this.#series.set(series, fields)
    }
    for (const { key, value } of point.fields) {
      if (typeof value !== 'number' && typeof value !== 'bigint') continue
      const raw = Number(value)
      const known = fields.get(key)
      if (known) {
        known.raw = raw
        known.timeS = timeS
      } else if (this.#count < fieldsAtMost) {
        this.#count++
        fields.set(key, { point, raw, timeS })
      }
    }
  }

  list(channelOf: (point: Point, field: string) => string | null): SeenField[] {
    return [...this.#series.values()].flatMap((fields) =>
      [...fields].map(([field, { point, raw, timeS }]) => ({
        measurement: point.measurement,
        field,
        tags: point.tags,
        raw,
        timeS,
        channel: channelOf(point, field),
      })),
    )
  }
}
