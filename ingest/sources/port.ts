import type { Origin } from '#analysis/model/origin.ts'

/** When bytes arrived: wall clock in epoch nanoseconds and the monotonic clock in nanoseconds. */
export interface Arrival {
  readonly wallNs: bigint
  readonly monotonicNs: bigint
}

export type PortFaultCode = 'unplugged' | 'silent' | 'open-failed' | 'read-failed' | 'line-too-long'

export interface PortFault {
  readonly code: PortFaultCode
  /** One plain sentence: what, where, what to do. */
  readonly message: string
}

/** Events of a port. Nothing is buffered: a slow listener must buffer for itself. */
export interface PortListener {
  opened(arrival: Arrival): void
  /** Raw bytes; lines may be cut anywhere. */
  bytes(chunk: Uint8Array, arrival: Arrival): void
  /** Bytes without a whole line so far: typical of a wrong baud rate. */
  heard?(bytes: Uint8Array): void
  /** The connection ended: the line buffer has a half line, which must never join the next one. */
  closed(arrival: Arrival): void
  fault(fault: PortFault, arrival: Arrival): void
}

/** A source of a logger's bytes: serial line, standard input, TCP, a replayed recording, the demo bench. */
export interface Port {
  /** Name shown to the user and written into fault marks. */
  readonly name: string
  /** True when the first line after opening may be the tail of one: the logger sends all the time. */
  readonly joinsMidLine?: boolean
  /** Serial lines only: current rate, [baud]; a new rate reopens the port. */
  readonly baudRate?: number
  setBaudRate?(baudRate: number): void
  /** Origin of the readings, for the record. */
  readonly origin?: Origin
  open(listener: PortListener): Promise<void>
  close(): Promise<void>
}
