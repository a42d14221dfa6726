import { backslash, carriageReturn, comma, del, equals, newline, space } from './ascii.ts'

/** End of an element and whether it contains escapes; `fault` is the reason when it is invalid. */
export interface ElementScan {
  end: number
  escaped: boolean
  fault: string | null
}

const scan: ElementScan = { end: 0, escaped: false, fault: null }

/**
 * Finds the end of a measurement, tag key, tag value or field key that starts at `from`.
 *
 * A backslash before a separator makes the separator part of the element; elsewhere it is a literal backslash.
 * `=` ends tags and field keys but not a measurement. The result is one shared object, valid until the next call.
 */
export function scanElement(text: string, from: number, what: string, equalsEnds: boolean): ElementScan {
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

/** Text of an element without its escapes. */
export function unescapeElement(raw: string, equalsEnds: boolean): string {
  return raw.replace(equalsEnds ? /\\([,= ])/g : /\\([, ])/g, '$1')
}
