import { editsBetween } from '#analysis/physics/units.ts'

/**
 * The known word nearest to a mistyped one, by edit distance (insert, delete, replace, swap of neighbours).
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
