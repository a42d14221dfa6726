import type { ChannelOrigin, OriginKind } from '#analysis/model/origin.ts'
import type { SealedRecord } from './record.ts'

const words: Readonly<Record<OriginKind, string>> = {
  serial: 'serial port',
  tcp: 'network, TCP',
  http: 'network, HTTP',
  mqtt: 'network, MQTT',
  replay: 'REPLAYED from a recording',
  import: 'IMPORTED from a file',
  typed: 'typed by hand',
  demo: 'SIMULATED by the demo: no aircraft was tested',
}

/** Kinds that a bench measures itself. */
const measured: readonly OriginKind[] = ['serial', 'tcp', 'http', 'mqtt']

export interface OriginWords {
  readonly text: string
  /** Whether the readings came from a bench. */
  readonly isMeasured: boolean
}

/** Source of a record's readings; null for evidence without readings. */
export function originWords({ stillhold_record, recording, origins }: SealedRecord): OriginWords | null {
  if (stillhold_record === 1)
    return recording && { text: 'not recorded, as in every record of version 0.1', isMeasured: false }
  if (!origins?.length) return recording && { text: 'not known', isMeasured: false }
  const groups = new Map<string, string[]>()
  for (const origin of origins) {
    const place = placeWords(origin)
    groups.set(place, [...(groups.get(place) ?? []), origin.channel])
  }
  const text = [...groups].map(([place, channels]) => `${place} (${channels.join(', ')})`).join('; ')
  return { text, isMeasured: origins.every(({ kind }) => measured.includes(kind)) }
}

function placeWords({ kind, name, sha256 }: ChannelOrigin): string {
  const hash = sha256 === null ? '' : `, SHA-256 ${sha256.slice(0, 16)}…`
  return `${words[kind]}${name === null ? '' : ` ${name}`}${hash}`
}
