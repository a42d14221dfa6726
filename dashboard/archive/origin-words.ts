import type { ChannelOrigin, OriginKind } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'
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

/** Prefix of the controller's note on the checks before the pump-up. */
export const sheetPrefix = 'checked: '

/** Short words for faults on the chart; the recording has the full text. */
const faultWords: Readonly<Record<string, string>> = {
  unplugged: 'logger unplugged',
  silent: 'logger silent',
  'open-failed': 'logger gone',
  'logger-reset': 'logger restarted',
  interrupted: 'broken off',
  'pressure-lost': 'pressure lost',
}

/** A short label of a mark. */
export function textOf({ kind, fields }: Mark): string {
  const { name, text, finding, action, open, code, seconds } = fields
  if (kind === 'fault' && typeof code === 'string') return faultWords[code] ?? code.replaceAll('-', ' ')
  if (kind === 'gap' && typeof seconds === 'number')
    return `nothing for ${seconds < 10 ? seconds.toFixed(1) : Math.round(seconds)} s`
  if (kind === 'clock') return 'clock wrong'
  if (kind === 'note' && typeof text === 'string' && text.startsWith(sheetPrefix)) return 'state sheet'
  if (typeof text === 'string') return text
  if (kind === 'place') return `on ${fields.section}`
  if (kind === 'supply') return name === 'off' ? 'supply off' : `supply ${name}`
  if (typeof name === 'string') return name
  if (typeof finding === 'string') return finding
  if (typeof action === 'string')
    return typeof fields.torque_Nm === 'number' ? `${action}, ${fields.torque_Nm} N·m` : action
  if ((kind === 'valve' || kind === 'check') && typeof open === 'boolean') return open ? 'opened' : 'shut'
  return Object.entries(fields)
    .map(([key, value]) => `${key} ${value}`)
    .join(', ')
}
