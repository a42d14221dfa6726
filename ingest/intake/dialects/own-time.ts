const timeLabels =
  /^(?:time|timestamp|ts|date|datetime|date_time|epoch|unix|unix_time|time_?(?:ns|us|ms|s))$/i
const isoWithZone = /^(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}:\d{2})(?:[.,](\d{1,9}))?\s*(Z|[+-]\d{2}:?\d{2})$/

/** 2001-09-09 and 2100-01-01: a number outside, in any unit, is an uptime, not a date. */
const earliestS = 1_000_000_000n
const latestS = 4_102_444_800n

/** Field for the uptime of a logger without a date. */
export const uptimeField = 'logger_time'

export function isTimeLabel(name: string): boolean {
  return timeLabels.test(name)
}

/**
 * Reads a logger's own date and time: ISO 8601 with a zone, or an epoch count in s, ms, µs or ns, distinguished
 * by size (they do not overlap between 2001 and 2100).
 *
 * A time without a zone, a time of day alone and milliseconds since power-up are not dates.
 *
 * @returns epoch nanoseconds, or null when the text is not a date.
 */
export function readOwnTime(text: string): bigint | null {
  const trimmed = text.trim()
  const [, day, clock, decimals = '', zone = ''] = isoWithZone.exec(trimmed) ?? []
  if (day !== undefined) {
    const offset = zone.length === 5 ? `${zone.slice(0, 3)}:${zone.slice(3)}` : zone
    const milliseconds = Date.parse(`${day}T${clock}${offset}`)
    if (Number.isNaN(milliseconds)) return null
    return BigInt(milliseconds) * 1_000_000n + BigInt(decimals.padEnd(9, '0'))
  }
  const [, count, parts = ''] = /^(\d{10,19})(?:\.(\d{1,9}))?$/.exec(trimmed) ?? []
  if (count === undefined) return null
  const whole = BigInt(count)
  for (const nsPerUnit of [1_000_000_000n, 1_000_000n, 1_000n, 1n]) {
    const seconds = (whole * nsPerUnit) / 1_000_000_000n
    if (seconds < earliestS || seconds >= latestS) continue
    const fraction = BigInt(parts.padEnd(9, '0'))
    return whole * nsPerUnit + (fraction * nsPerUnit) / 1_000_000_000n
  }
  return null
}
