import { type ChannelOrigin, type OriginKind, originKinds } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'

/**
 * Origin of each channel's readings, from the program's own marks in the recording. Marks within a logger's lines do not
 * count: they cannot prove their origin.
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
