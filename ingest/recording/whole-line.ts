/**
 * Whether a last line without line end is whole. A comment is; a point is when its time has all 19 digits. A cut
 * line has lost some of them, and would read as a point of long ago.
 */
export function isWholeLine(text: string): boolean {
  return /^\s*(#|$)/.test(text) || / [1-8]\d{18}\s*$/.test(text)
}
