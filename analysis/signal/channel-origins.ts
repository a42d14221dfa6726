import { type ChannelOrigin, type OriginKind, originKinds } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'

/**
 * Where each channel's readings came from, as the program's own marks in the recording say. Marks among a logger's lines
 * say nothing about where these came from.
 */
export function channelOrigins(marks: readonly Mark[]): ChannelOrigin[] {
  const found = new Map<string, ChannelOrigin>()
  for (const { kind, id, from, fields } of marks) {
    if (kind !== 'origin' || id === null || from !== undefined) continue
    const source = String(fields.source) as OriginKind
    if (!originKinds.includes(source)) continue
    const text = (key: string): string | null => (typeof fields[key] === 'string' ? fields[key] : null)
    const origin = { channel: id, kind: source, name: text('name'), sha256: text('sha256') }
    found.set(JSON.stringify(origin), origin)
  }
  return [...found.values()]
}
