/** Origin of a channel's readings. */
export const originKinds = ['serial', 'tcp', 'http', 'mqtt', 'replay', 'import', 'typed', 'demo'] as const

export type OriginKind = (typeof originKinds)[number]

export interface Origin {
  readonly kind: OriginKind
  /** The port, address or file; null where there is none. */
  readonly name: string | null
  /** SHA-256 of a replayed or imported file; null otherwise. */
  readonly sha256: string | null
}

export interface ChannelOrigin extends Origin {
  readonly channel: string
}

/** Who made a mark: the person at the page, at a joined device, or the logger's own lines. */
export const markMakers = ['operator', 'device', 'logger'] as const

export type MarkMaker = (typeof markMakers)[number]
