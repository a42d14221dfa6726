/** The last field of a line, a timestamp behind it or not. */
const marker = /^crc[=:]\s*(\d{1,5})i?\s*(?:-?\d{1,19})?$/

/**
 * CRC-16/CCITT-FALSE: polynomial 0x1021, start 0xFFFF, nothing reflected.
 *
 * Check: `123456789` gives 0x29B1 (published catalogues of CRC algorithms, from memory).
 */
export function crc16(text: string): number {
  let crc = 0xffff
  for (const byte of Buffer.from(text)) {
    crc ^= byte << 8
    for (let bit = 0; bit < 8; bit++)
      crc = crc & 0x8000 ? ((crc << 1) ^ 0x1021) & 0xffff : (crc << 1) & 0xffff
  }
  return crc
}

/**
 * Checks the `crc` a logger may put behind its other fields, over all that stands before it. A lost character turns
 * 101.3 into 11.3 and nothing else shows it.
 *
 * @returns null when it fits or there is none, else the reason to refuse the line.
 */
export function checkCrc(line: string): string | null {
  const at = line.lastIndexOf('crc')
  if (at === -1) return null
  const match = marker.exec(line.slice(at))
  const before = line.slice(0, at).trimEnd()
  // The sum is over all before the separator, which is a comma, a semicolon or the first of the spaces.
  const end = /[,;]$/.test(before) ? before.length - 1 : before.length
  if (match === null || end === at) return null
  return crc16(line.slice(0, end)) === Number(match[1]) ? null : 'its check sum does not fit'
}
