/** Where the words of a mark stand: how many lines down, and where they begin. */
export interface PlacedWords {
  readonly line: number
  readonly from: number
}

/** Lines of words at the top of a chart; where more marks than that stand close together, some go without. */
const LINES = 4

/**
 * Places words beside their marks, right of them or, at the right edge, left of them, each on the first line that is
 * free there; null where none is.
 *
 * @param marks from left to right; all lengths in the same unit
 * @param gap between a mark and its words, and twice that between words
 */
export function placeWords(
  marks: readonly { readonly at: number; readonly width: number }[],
  [left, right]: readonly [number, number],
  gap: number,
): readonly (PlacedWords | null)[] {
  const freeFrom = new Array<number>(LINES).fill(left)
  return marks.map(({ at, width }) => {
    const from = at + gap + width <= right ? at + gap : at - gap - width
    const line = freeFrom.findIndex((free) => from >= free)
    if (line < 0) return null
    freeFrom[line] = Math.max(at, from + width) + 2 * gap
    return { line, from }
  })
}
