import { renderUnicodeCompact } from 'uqr'

/** A QR code in half-block characters, with the quiet zone that cameras need. */
export function qrCode(text: string): string {
  return renderUnicodeCompact(text, { border: 2 })
}
