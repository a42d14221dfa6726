import { scanElement, unescapeElement } from './element-scanner.ts'

/** Measurement and tags of a line, cached for all lines that begin alike. */
export interface SeriesHead {
  /** As written, with the space after it. */
  readonly raw: string
  readonly measurement: string
  readonly tags: Readonly<Record<string, string>>
  /** Field names of the last line of this series, in order: most lines repeat them. */
  keys: readonly KnownKey[]
}

export interface KnownKey {
  /** As written, with the `=` after it. */
  readonly raw: string
  readonly key: string
}

export interface HeadFault {
  readonly at: number
  readonly cause: string
}

/** Reads measurement and tags at `from`, including the first space. */
export function parseHead(text: string, from: number): SeriesHead | HeadFault {
  const name = scanElement(text, from, 'measurement', false)
  if (name.fault !== null) return { at: name.end, cause: name.fault }
  const measurement = take(text, from, name.end, name.escaped, false)
  let at = name.end
  const tags: Record<string, string> = Object.create(null)
  while (text[at] === ',') {
    const keyAt = at + 1
    const keyScan = scanElement(text, keyAt, 'tag key', true)
    if (keyScan.fault !== null) return { at: keyScan.end, cause: keyScan.fault }
    const key = take(text, keyAt, keyScan.end, keyScan.escaped, true)
    at = keyScan.end
    if (text[at] !== '=') return { at, cause: `expected "=" after the tag key ${JSON.stringify(key)}` }
    const valueAt = at + 1
    const valueScan = scanElement(text, valueAt, 'tag value', true)
    if (valueScan.fault !== null) return { at: valueScan.end, cause: valueScan.fault }
    at = valueScan.end
    if (text[at] === '=') return { at, cause: 'an "=" in a tag value needs a backslash before it' }
    if (key in tags) return { at: keyAt, cause: `the tag key ${JSON.stringify(key)} is repeated` }
    tags[key] = take(text, valueAt, at, valueScan.escaped, true)
  }
  if (text[at] !== ' ') return { at, cause: 'expected a space and a field' }
  return { raw: text.slice(from, at + 1), measurement, tags: Object.freeze(tags), keys: [] }
}

function take(text: string, from: number, to: number, escaped: boolean, equalsEnds: boolean): string {
  const raw = text.slice(from, to)
  return escaped ? unescapeElement(raw, equalsEnds) : raw
}
