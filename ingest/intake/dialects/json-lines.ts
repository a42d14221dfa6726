import {
  type Dialect,
  type DialectQuantity,
  type LineOutcome,
  loggerMeasurement,
  type ReadingValue,
  refused,
} from './dialect.ts'
import { isTimeLabel, readOwnTime, uptimeField } from './own-time.ts'

type Json = null | boolean | number | string | Json[] | { [key: string]: Json }

/**
 * One JSON object a line. Nested objects become `outer.inner`, arrays `name.0`, `null` is a missing value. An
 * object with `fields` (and `measurement` or `name`, `tags`, `timestamp`) is a point already and keeps its own names.
 */
export function jsonLinesDialect(): Dialect {
  const quantities: DialectQuantity[] = []
  const known = new Set<string>()

  function read(line: string): LineOutcome {
    let parsed: Json
    try {
      parsed = JSON.parse(line)
    } catch {
      return refused('not JSON')
    }
    if (!isObject(parsed)) return refused('JSON, but not an object')
    const point = isObject(parsed['fields']) ? parsed : null
    const tags: Record<string, string> = {}
    if (point !== null && isObject(point['tags'])) {
      for (const [key, value] of Object.entries(point['tags']))
        if (value !== null && typeof value !== 'object' && value !== '') tags[key] = String(value)
    }
    const fields: Record<string, ReadingValue> = {}
    let timeNs: bigint | null = null
    const own = point === null ? parsed : (point['fields'] as { [key: string]: Json })
    const time = point === null ? undefined : (point['timestamp'] ?? point['time'])
    if (time !== undefined) timeNs = readOwnTime(exactText(line, time))
    for (const [key, value] of Object.entries(own)) {
      if (point === null && isTimeLabel(key) && (typeof value === 'string' || typeof value === 'number')) {
        timeNs = readOwnTime(exactText(line, value))
        if (timeNs === null) fields[uptimeField] = value
      } else flatten(key, value, fields)
    }
    if (!Object.values(fields).some((value) => typeof value === 'number')) return refused('no number in it')
    for (const name of Object.keys(fields)) {
      if (known.has(name) || typeof fields[name] !== 'number') continue
      known.add(name)
      quantities.push({ name, unit: null })
    }
    const named = point === null ? undefined : (point['measurement'] ?? point['name'])
    const measurement = typeof named === 'string' && named !== '' ? named : loggerMeasurement
    return { kind: 'reading', reading: { measurement, tags, fields, timeNs } }
  }

  return { name: 'json-lines', quantities, read }
}

function isObject(value: Json | undefined): value is { [key: string]: Json } {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

function flatten(name: string, value: Json, into: Record<string, ReadingValue>): void {
  if (value === null) return
  if (typeof value === 'object') {
    for (const [key, inner] of Object.entries(value)) flatten(`${name}.${key}`, inner, into)
    return
  }
  into[name.trim().replace(/\s+/g, '_')] = value
}

/** Epoch nanoseconds do not fit a double: the digits are taken from the line itself. */
function exactText(line: string, value: Json): string {
  if (typeof value !== 'number' || Number.isSafeInteger(value)) return String(value)
  for (const digits of line.match(/\d{16,19}/g) ?? []) if (Number(digits) === value) return digits
  return String(value)
}
