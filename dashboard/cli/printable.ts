/** Control characters, and marks that turn the direction of writing: a terminal obeys them instead of showing them. */
const obeyed = /[\p{Cc}\u200e\u200f\u202a-\u202e\u2066-\u2069]/gu

/** Text from a file or its name, for a terminal: what would move its cursor or color it is shown as its code. */
export function printable(text: string): string {
  return text.replaceAll(obeyed, (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`)
}
