/** Control characters, and marks that change the writing direction: a terminal executes them. */
const obeyed = /[\p{Cc}\u200e\u200f\u202a-\u202e\u2066-\u2069]/gu

/** Text from a file or its name, safe for a terminal: control characters are shown as their codes. */
export function printable(text: string): string {
  return text.replaceAll(obeyed, (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`)
}
