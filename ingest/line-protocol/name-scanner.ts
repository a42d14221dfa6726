import { backslash, carriageReturn, comma, del, equals, newline, space } from './ascii.ts'

/** Where a name ended and whether it holds escapes; `fault` says why it is none. */
export interface NameScan {
  end: number
  escaped: boolean
  fault: string | null
}

const scan: NameScan = { end: 0, escaped: false, fault: null }

/**
 * Finds the end of a measurement, tag key, tag value or field key that starts at `from`.
 *
 * A backslash before a separator makes it part of the name; before anything else it stands for itself.
 * `=` ends tag and field names but not a measurement. The answer is one shared object, valid until the next call.
 */
export function scanName(text: string, from: number, what: string, equalsEnds: boolean): NameScan {
  let i = from
  scan.escaped = false
  scan.fault = null
  for (; i < text.length; i++) {
    const c = text.charCodeAt(i)
    if (c === backslash) {
      const next = text.charCodeAt(i + 1)
      if (next === comma || next === space || (next === equals && equalsEnds)) {
        scan.escaped = true
        i++
      }
    } else if (c === comma || c === space || (c === equals && equalsEnds)) break
    else if (c < space || c === del) {
      if (c !== newline && c !== carriageReturn) scan.fault = `control character in the ${what}`
      break
    }
  }
  scan.end = i
  if (scan.fault === null && i === from) scan.fault = `empty ${what}`
  return scan
}

/** The name a piece of text stands for. */
export function unescapeName(raw: string, equalsEnds: boolean): string {
  return raw.replace(equalsEnds ? /\\([,= ])/g : /\\([, ])/g, '$1')
}
