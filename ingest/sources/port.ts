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

/** What a port tells its reader. Nothing is buffered on its behalf: a slow listener is the reader's affair. */
export interface PortListener {
  opened(arrival: Arrival): void
  /** Raw bytes as they came; lines may be cut anywhere. */
  bytes(chunk: Uint8Array, arrival: Arrival): void
  /** Bytes of which no line is whole yet: what a wrong baud rate brings. */
  heard?(bytes: Uint8Array): void
  /** The connection ended: what stands in the line buffer is a half line and never joins the next one. */
  closed(arrival: Arrival): void
  fault(fault: PortFault, arrival: Arrival): void
}

/** Anything that delivers a logger's bytes: serial line, standard input, TCP, a replayed recording, the demo bench. */
export interface Port {
  /** Name shown to the user and written into fault marks. */
  readonly name: string
  /** True when the first line after opening may be the tail of one: a logger that talks whether it is heard or not. */
  readonly joinsMidLine?: boolean
  /** Serial lines only: [baud] now, and another, with which the port is opened again. */
  readonly baudRate?: number
  setBaudRate?(baudRate: number): void
  /** Where the readings come from, for the record. */
  readonly origin?: Origin
  open(listener: PortListener): Promise<void>
  close(): Promise<void>
}
