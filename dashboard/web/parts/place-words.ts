/** Position of a mark's text: the line from the top, and the start. */
export interface PlacedWords {
  readonly line: number
  readonly from: number
}

/** Lines of text at the top of a chart; when more marks than that are close together, some have no text. */
const LINES = 4

/**
 * Places texts right of their marks or, at the right edge, left of them, each on the first line that is
 * free; null when none is.
 *
 * @param marks from left to right; all lengths in the same unit
 * @param gap between a mark and its text, and twice that between texts
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
