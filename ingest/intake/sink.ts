import type { Point } from '#ingest/line-protocol/point.ts'
import type { Arrival } from '#ingest/sources/port.ts'

/** Marks made by the intake: faults and gaps of a port, and notes about the logger. */
export interface IntakeMark {
  readonly kind: 'fault' | 'gap' | 'note'
  readonly timeNs: bigint
  readonly fields: Readonly<Record<string, string | number>>
}

/** Receiver of all input: the recording first, then the live columns. */
export interface IntakeSink {
  /** A point with its time; `line` is the same point as a line of a recording, without the line end. */
  point(point: Point, line: string, arrival: Arrival): void
  /** Input that could not be parsed: the reason and the unchanged bytes. */
  reject(reason: string, bytes: Uint8Array, arrival: Arrival): void
  /** A comment line from the logger, with its `#`. */
  comment(text: string, arrival: Arrival): void
  mark(mark: IntakeMark, arrival: Arrival): void
}
