import type { Channel, ChannelSource, System } from '#analysis/model/system.ts'
import type { SeenField } from '#dashboard/api.ts'
import { type Point, seriesOf } from '#ingest/line-protocol/point.ts'
import { scaleColumn } from '#ingest/recording/scale-column.ts'

/** One reading of a channel, SI, as read from a recording. */
export type TakeReading = (channel: Channel, reading: number) => void

interface PlaceMark {
  readonly kind: string
  readonly id?: string | null
  readonly fields: Readonly<Record<string, unknown>>
}

interface Taker {
  readonly channel: Channel
  readonly toSi: (raw: number, timeS: number) => number
}

/** Maps the numbers of a point to channels, one point at a time: the live counterpart of reading a recording. */
export class PointChannels {
  readonly #takers = new Map<string, Taker[]>()
  /** Section of each movable gauge, as marked last. */
  readonly #places = new Map<string, string>()
  readonly #rails: { source: ChannelSource; timeS: number; value: number }[] = []

  constructor(system: Pick<System, 'channels'>) {
    for (const channel of system.channels) {
      const { measurement } = channel.from
      const takers = this.#takers.get(measurement) ?? []
      takers.push({ channel, toSi: this.#conversion(channel) })
      this.#takers.set(measurement, takers)
    }
  }

  read(point: Point, timeS: number, take: TakeReading): void {
    for (const rail of this.#rails) {
      const value = numberOf(point, rail.source)
      if (value === null) continue
      rail.timeS = timeS
      rail.value = value
    }
    for (const { channel, toSi } of this.#takers.get(point.measurement) ?? []) {
      const raw = numberOf(point, channel.from)
      if (raw === null || !this.isPlaced(channel)) continue
      const reading = toSi(raw, timeS)
      if (!Number.isNaN(reading)) take(channel, reading)
    }
  }

  /** Valid marks give the present section of each movable gauge. */
  place(marks: readonly PlaceMark[]): void {
    this.#places.clear()
    for (const { kind, id, fields } of marks)
      if (kind === 'place' && id) this.#places.set(id, String(fields.section))
  }

  /** Whether the channel's sensor is on its section: always true for a fixed sensor. */
  isPlaced({ movable, section }: Channel): boolean {
    return movable === undefined || this.#places.get(movable.id) === section
  }

  /** Channel that maps a field of a point; null when none does. */
  takerOf(point: Point, field: string): string | null {
    const found = this.#takers
      .get(point.measurement)
      ?.find(({ channel: { from } }) => from.field === field && hasTags(point, from))
    return found?.channel.movable?.id ?? found?.channel.id ?? null
  }

  #conversion(channel: Channel): Taker['toSi'] {
    const scaled = (raw: number, timeS: number, rail: { timeS: number; value: number } | null): number => {
      const one = (time: number, value: number) => ({
        timeS: Float64Array.of(time),
        values: Float64Array.of(value),
      })
      return (
        scaleColumn(channel, one(timeS, raw), rail && one(rail.timeS, rail.value)).values[0] ?? Number.NaN
      )
    }
    if (channel.scale?.kind === 'ratiometric') {
      const rail = { source: channel.scale.rail, timeS: Number.NEGATIVE_INFINITY, value: Number.NaN }
      this.#rails.push(rail)
      return (raw, timeS) => scaled(raw, timeS, rail)
    }
    if (channel.scale !== null) return (raw, timeS) => scaled(raw, timeS, null)
    // Unit conversion is linear: two points define it, and it is cached because it runs a thousand times a second.
    const offset = scaled(0, 0, null)
    const slope = scaled(1, 0, null) - offset
    return (raw) => offset + slope * raw
  }
}

function numberOf(point: Point, source: ChannelSource): number | null {
  if (point.measurement !== source.measurement || !hasTags(point, source)) return null
  for (const { key, value } of point.fields) {
    if (key !== source.field) continue
    return typeof value === 'number' ? value : typeof value === 'bigint' ? Number(value) : null
  }
  return null
}

function hasTags(point: Point, { tags }: ChannelSource): boolean {
  for (const key in tags) if (point.tags[key] !== tags[key]) return false
  return true
}

/** A stream with more different fields than this is broken; further fields are not listed. */
const fieldsAtMost = 500

/** Every number that the loggers send, mapped or not, for the page that sets up channels. */
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
