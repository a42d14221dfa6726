import { isUtf8 } from 'node:buffer'
import { rejectedPrefix } from './recording-header.ts'

/**
 * Rejected bytes as a comment line of a recording, without line end: `#! <reason>: <the bytes, escaped>`.
 *
 * Printable text is unchanged; a backslash is doubled; line ends and tabs are `\n`, `\r`, `\t`; any other control
 * character and every byte that is not UTF-8 is `\x` and two hexadecimal digits. The escaping is reversible.
 */
export function rejectedLine(reason: string, bytes: Uint8Array): string {
  return `${rejectedPrefix} ${escapeBytes(Buffer.from(reason))}: ${escapeBytes(bytes)}`
}

/** @see rejectedLine */
export function escapeBytes(bytes: Uint8Array): string {
  const buffer = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  if (isUtf8(buffer)) return escapeText(buffer.toString('utf8'))
  let text = ''
  let textFrom = 0
  for (let at = 0; at < buffer.length; ) {
    const length = characterLength(buffer, at)
    if (length === 0) {
      text += escapeText(buffer.toString('utf8', textFrom, at)) + spelled(buffer.readUInt8(at))
      textFrom = at + 1
    }
    at += Math.max(1, length)
  }
  return text + escapeText(buffer.toString('utf8', textFrom))
}

function escapeText(text: string): string {
  return text.replace(/[\0-\x1f\x7f\\]/g, (character) => short[character] ?? spelled(character.charCodeAt(0)))
}

function spelled(byte: number): string {
  return `\\x${byte.toString(16).padStart(2, '0')}`
}

/** The bytes that `escapeBytes` wrote. */
export function unescapeBytes(text: string): Uint8Array {
  const parts: Buffer[] = []
  for (const [, code, plain = ''] of text.matchAll(/\\(x[0-9a-f]{2}|[\\nrt])|([^\\]+|\\)/g)) {
    if (code === undefined) parts.push(Buffer.from(plain))
    else if (code.startsWith('x')) parts.push(Buffer.from([Number.parseInt(code.slice(1), 16)]))
    else parts.push(Buffer.from(long[code] ?? ''))
  }
  return Buffer.concat(parts)
}

const short: Readonly<Record<string, string>> = { '\\': '\\\\', '\n': '\\n', '\r': '\\r', '\t': '\\t' }
const long: Readonly<Record<string, string>> = { '\\': '\\', n: '\n', r: '\r', t: '\t' }

/** Number of bytes of the character at `at`; 0 when it is not UTF-8. */
function characterLength(bytes: Buffer, at: number): number {
  const first = bytes.readUInt8(at)
  const length = first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : first >= 0x80 ? 2 : 1
  return isUtf8(bytes.subarray(at, at + length)) ? length : 0
}
