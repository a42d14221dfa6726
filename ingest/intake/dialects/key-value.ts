import {
  type Dialect,
  type DialectQuantity,
  type LineOutcome,
  loggerMeasurement,
  refused,
} from './dialect.ts'
import { isTimeLabel, readOwnTime, uptimeField } from './own-time.ts'
import { readLabel } from './read-label.ts'
import { readNumber } from './read-number.ts'

/** `label = value unit`, the label up to `=` or `:`; the value quoted or up to the next separator. */
const pair =
  /\s*([A-Za-z_µ°][^=:,;"]*?)\s*[=:]\s*("[^"]*"|[^,;]*?)\s*(?:[,;]\s*|\s+(?=[^\s=:,;"]+(?:\s*[[(][^\])]*[\])])?\s*[=:])|$)/y
const valueWithUnit = /^([+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*([^\d\s.+-][^\s]*(?:\s[^\s\d]+)?)$/

/**
 * `p1=10.01 psi, t1=21.3 °C`, `p1[psi]=10.01 t1[degC]=21.3`, `pressure: 10.01`: labels before the values, units in
 * either. A label that comes twice in a line is two lines run together and refused.
 */
export function keyValueDialect(): Dialect {
  const units = new Map<string, string | null>()
  const quantities: DialectQuantity[] = []

  function read(line: string): LineOutcome {
    const fields: Record<string, number | string | boolean> = {}
    const seen: [string, string | null][] = []
    let timeNs: bigint | null = null
    pair.lastIndex = 0
    const text = line.trim()
    if (text === '') return refused('empty line')
    while (pair.lastIndex < text.length) {
      const at = pair.lastIndex
      const match = pair.exec(text)
      if (match === null) return refused(`no label=value at column ${at + 1}`)
      const label = readLabel(match[1])
      if (label.name in fields || seen.some(([name]) => name === label.name))
        return refused(`${label.name} comes twice`)
      const raw = match[2]
      if (isTimeLabel(label.name)) {
        timeNs = readOwnTime(raw)
        if (timeNs === null) fields[uptimeField] = readNumber(raw) ?? raw
        continue
      }
      const parted = valueWithUnit.exec(raw)
      const value = readNumber(parted === null ? raw : parted[1])
      const unit = parted === null ? label.unit : parted[2]
      if (value === undefined) {
        const word = readWord(raw)
        if (word === null) return refused(`${label.name} is not a number`)
        fields[label.name] = word
        continue
      }
      const before = units.get(label.name)
      if (before !== undefined && before !== unit && value !== null)
        return refused(`${label.name} was in ${before ?? 'no unit'} and is now in ${unit ?? 'no unit'}`)
      seen.push([label.name, unit])
      if (value !== null) fields[label.name] = value
    }
    if (!Object.values(fields).some((value) => typeof value === 'number')) return refused('no number in it')
    for (const [name, unit] of seen) {
      if (units.has(name)) continue
      units.set(name, unit)
      quantities.push({ name, unit })
    }
    return { kind: 'reading', reading: { measurement: loggerMeasurement, tags: {}, fields, timeNs } }
  }

  return { name: 'key-value', quantities, read }
}

/** A quoted text, or a plain word such as `ok`; anything with a digit in it is a number gone wrong. */
function readWord(raw: string): string | boolean | null {
  if (/^"[^"]*"$/.test(raw)) return raw.slice(1, -1)
  if (/^(?:true|false)$/i.test(raw)) return raw.toLowerCase() === 'true'
  return /^[A-Za-z][A-Za-z_-]*$/.test(raw) ? raw : null
}
