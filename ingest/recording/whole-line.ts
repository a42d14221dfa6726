/**
 * Is a last line that has no line end whole? A comment is; a point is when its time has all 19 digits. A line that
 * was cut has lost some of them, and would be taken for a point of long ago.
 */
export function isWholeLine(text: string): boolean {
  return /^\s*(#|$)/.test(text) || / [1-8]\d{18}\s*$/.test(text)
}
