import { isUtf8 } from 'node:buffer'
import { rejectedPrefix } from './recording-header.ts'

/**
 * What could not be parsed, as a comment line of a recording without line end: `#! <reason>: <the bytes, escaped>`.
 *
 * Printable text stands as it is; a backslash is doubled; line ends and tabs are `\n`, `\r`, `\t`; any other control
 * character and every byte that is no UTF-8 is `\x` and two hexadecimal digits. So the bytes can be had back exactly.
 */
export function rejectedLine(reason: string, bytes: Uint8Array): string {
  return `${rejectedPrefix} ${escapeBytes(Buffer.from(reason))}: ${escapeBytes(bytes)}`
}

/** @see rejectedLine */
export function escapeBytes(bytes: Uint8Array): string {
  let text = ''
  for (let at = 0; at < bytes.length; ) {
    const length = characterLength(bytes, at)
    if (length === 0) {
      text += `\\x${bytes[at].toString(16).padStart(2, '0')}`
      at++
    } else {
      const character = Buffer.from(bytes.subarray(at, at + length)).toString('utf8')
      text += short[character] ?? character
      at += length
    }
  }
  return text
}

/** The bytes that `escapeBytes` wrote. */
export function unescapeBytes(text: string): Uint8Array {
  const parts: Buffer[] = []
  for (const [, code, plain] of text.matchAll(/\\(x[0-9a-f]{2}|[\\nrt])|([^\\]+|\\)/g)) {
    if (code === undefined) parts.push(Buffer.from(plain))
    else if (code.startsWith('x')) parts.push(Buffer.from([Number.parseInt(code.slice(1), 16)]))
    else parts.push(Buffer.from(long[code]))
  }
  return Buffer.concat(parts)
}

const short: Readonly<Record<string, string>> = { '\\': '\\\\', '\n': '\\n', '\r': '\\r', '\t': '\\t' }
const long: Readonly<Record<string, string>> = { '\\': '\\', n: '\n', r: '\r', t: '\t' }

/** Bytes of the character at `at` that may stand as it is or has a short escape; 0 when its byte must be spelled. */
function characterLength(bytes: Uint8Array, at: number): number {
  const first = bytes[at]
  if (first < 0x80) {
    const isLineEndOrTab = first === 9 || first === 10 || first === 13
    return (first < 32 && !isLineEndOrTab) || first === 127 ? 0 : 1
  }
  const length = first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2
  const character = Buffer.from(bytes.subarray(at, at + length))
  return character.length === length && isUtf8(character) ? length : 0
}
