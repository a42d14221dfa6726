import {
  type Dialect,
  type DialectQuantity,
  fieldsAtMost,
  type LineOutcome,
  loggerMeasurement,
  type ReadingValue,
  readingOf,
  refused,
} from './dialect.ts'
import { isTimeLabel, readOwnTime, uptimeField } from './own-time.ts'

const deepest = 16
const longestName = 512
const tooMuch = `more than ${fieldsAtMost} values, nested deeper than ${deepest}, or a name over ${longestName} characters`

type Json = null | boolean | number | string | Json[] | { [key: string]: Json }

/**
 * One JSON object per line. Nested objects become `outer.inner`, arrays `name.0`, `null` is a missing value. An
 * object with `fields` (and `measurement` or `name`, `tags`, `timestamp`) is already a point and keeps its names.
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
    const fields = new Map<string, ReadingValue>()
    let timeNs: bigint | null = null
    const own = point === null ? parsed : (point['fields'] as { [key: string]: Json })
    const time = point === null ? undefined : (point['timestamp'] ?? point['time'])
    if (time !== undefined) timeNs = readOwnTime(exactText(line, time))
    for (const [key, value] of Object.entries(own)) {
      if (point === null && isTimeLabel(key) && (typeof value === 'string' || typeof value === 'number')) {
        timeNs = readOwnTime(exactText(line, value))
        if (timeNs === null) fields.set(uptimeField, value)
      } else if (!flatten(key, value, fields)) return refused(tooMuch)
    }
    const named = point === null ? undefined : (point['measurement'] ?? point['name'])
    const measurement = typeof named === 'string' && named !== '' ? named : loggerMeasurement
    const outcome = readingOf(fields, timeNs, measurement, tags)
    if (outcome.kind === 'refused') return outcome
    for (const [name, value] of fields) {
      if (typeof value !== 'number' || known.has(name) || known.size >= fieldsAtMost) continue
      known.add(name)
      quantities.push({ name, unit: null })
    }
    return outcome
  }

  return { name: 'json-lines', namesEachValue: true, quantities, read, again: jsonLinesDialect }
}

function isObject(value: Json | undefined): value is { [key: string]: Json } {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

/** Adds the value at `name`; false when it is nested too deeply or has too many values or too long names. */
function flatten(name: string, value: Json, into: Map<string, ReadingValue>, depth = 0): boolean {
  if (value === null) return true
  if (typeof value !== 'object') {
    if (into.size === fieldsAtMost || name.length > longestName) return false
    into.set(name.trim().replace(/\s+/g, '_'), value)
    return true
  }
  if (depth === deepest) return false
  for (const [key, member] of Object.entries(value))
    if (!flatten(`${name}.${key}`, member, into, depth + 1)) return false
  return true
}

/** Epoch nanoseconds do not fit a double: the digits are read from the text of the line. */
function exactText(line: string, value: Json): string {
  if (typeof value !== 'number' || Number.isSafeInteger(value)) return String(value)
  for (const digits of line.match(/\d{16,19}/g) ?? []) if (Number(digits) === value) return digits
  return String(value)
}
