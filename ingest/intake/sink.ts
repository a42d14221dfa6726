import type { Point } from '#ingest/line-protocol/point.ts'
import type { Arrival } from '#ingest/sources/port.ts'

/** Marks the intake makes by itself: a port's faults and gaps, and notes on what it found out about the logger. */
export interface IntakeMark {
  readonly kind: 'fault' | 'gap' | 'note'
  readonly timeNs: bigint
  readonly fields: Readonly<Record<string, string | number>>
}

/** Who wants what arrives: the recording first, then the live columns. */
export interface IntakeSink {
  /** A point with its time; `line` is the same point as it stands in a recording, without the line end. */
  point(point: Point, line: string, arrival: Arrival): void
  /** What could not be parsed: why, and the bytes as they came. */
  reject(reason: string, bytes: Uint8Array, arrival: Arrival): void
  /** A comment line of the logger's own, `#` included. */
  comment(text: string, arrival: Arrival): void
  mark(mark: IntakeMark, arrival: Arrival): void
}
