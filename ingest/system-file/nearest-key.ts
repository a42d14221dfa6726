/**
 * The known word most like a mistyped one, by edits (insert, delete, replace, swap of neighbours).
 * Ties go to the first in `known`. Null only when `known` is empty.
 */
export function nearestKey(typed: string, known: readonly string[]): string | null {
  let best: string | null = null
  let fewest = Number.POSITIVE_INFINITY
  for (const word of known) {
    const edits = editsBetween(typed.toLowerCase(), word.toLowerCase())
    if (edits < fewest) {
      fewest = edits
      best = word
    }
  }
  return best
}

/** Number of single-character edits that turn `a` into `b`; a swap of neighbours counts as one. */
export function editsBetween(a: string, b: string): number {
  // A pasted paragraph is not a typing mistake: bound the table.
  if (a.length > longestCompared) return a.length
  const width = b.length + 1
  let beforeLast = new Uint16Array(width)
  let last = Uint16Array.from({ length: width }, (_, i) => i)
  for (let i = 1; i <= a.length; i++) {
    const row = new Uint16Array(width)
    row[0] = i
    for (let j = 1; j < width; j++) {
      const replace = last[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1)
      row[j] = Math.min(replace, last[j] + 1, row[j - 1] + 1)
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        row[j] = Math.min(row[j], beforeLast[j - 2] + 1)
      }
    }
    beforeLast = last
    last = row
  }
  return last[b.length]
}

const longestCompared = 80
