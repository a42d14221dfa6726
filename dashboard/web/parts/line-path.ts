/** Times and values of one line, ascending in time; a value that is no number is a gap. */
export interface ChartColumns {
  readonly x: ArrayLike<number>
  readonly y: ArrayLike<number | null>
}

export const noColumns: ChartColumns = { x: [], y: [] }

/** Where the numbers lie on the canvas, in its pixels. */
export interface Frame {
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
  readonly x: readonly [low: number, high: number]
  readonly y: readonly [low: number, high: number]
}

/** What a line is drawn with: a `Path2D`, or a list in a test. */
export interface Pen {
  moveTo(x: number, y: number): void
  lineTo(x: number, y: number): void
}

/** First index whose time is not before `atS`; the length where there is none. */
export function firstAt(x: ArrayLike<number>, atS: number): number {
  let low = 0
  let high = x.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (x[middle] < atS) low = middle + 1
    else high = middle
  }
  return low
}

const isGap = (value: number | null): value is null => value === null || !Number.isFinite(value)

/** Lowest and highest value between two times; infinities the wrong way round where there is none. */
export function extremes(columns: ChartColumns, fromS: number, toS: number): [low: number, high: number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  const { x, y } = columns
  for (let i = firstAt(x, fromS); i < x.length && x[i] <= toS; i++) {
    const value = y[i]
    if (isGap(value)) continue
    if (value < low) low = value
    if (value > high) high = value
  }
  return [low, high]
}

/**
 * Draws the part of a line that is in sight, and on to the first reading beyond either edge.
 *
 * @returns how many readings were in sight, so that the few of a close look can be shown as dots
 */
export function tracePath({ x, y }: ChartColumns, frame: Frame, pen: Pen): number {
  const [fromS, toS] = frame.x
  const perS = frame.width / (toS - fromS)
  const perY = frame.height / (frame.y[1] - frame.y[0])
  let seen = 0
  let drawing = false
  for (let i = Math.max(0, firstAt(x, fromS) - 1); i < x.length && (i === 0 || x[i - 1] <= toS); i++) {
    const value = y[i]
    if (isGap(value)) {
      drawing = false
      continue
    }
    const at = frame.left + (x[i] - fromS) * perS
    const down = frame.top + (frame.y[1] - value) * perY
    // A reading that stands alone between gaps is a dot of no length.
    if (!drawing) pen.moveTo(at, down)
    pen.lineTo(at, down)
    drawing = true
    if (x[i] >= fromS) seen++
  }
  return seen
}

/** One column of pixels of a line: all that the line covers in it. */
type DrawBar = (column: number, top: number, bottom: number) => void

/** Whether so many readings share each column of pixels that the line is a band of bars. */
export function isDense({ x }: ChartColumns, { x: [fromS, toS], width }: Frame): boolean {
  const first = firstAt(x, fromS)
  const last = firstAt(x, toS) - 1
  if (last - first < 2) return false
  return last - first > (1.5 * width * (x[last] - x[first])) / (toS - fromS)
}

/**
 * Draws a dense line as one upright bar a column of pixels, from its lowest to its highest reading and on to where the
 * column before left off: the picture of a line through all the readings, for a fraction of the work of one.
 */
export function traceBars({ x, y }: ChartColumns, frame: Frame, bar: DrawBar): void {
  const [fromS, toS] = frame.x
  const perS = frame.width / (toS - fromS)
  const perY = frame.height / (frame.y[1] - frame.y[0])
  let column = Number.NaN
  let top = 0
  let bottom = 0
  let before = Number.NaN
  let i = Math.max(0, firstAt(x, fromS) - 1)
  for (; i < x.length && x[i] <= toS; i++) {
    const value = y[i]
    if (isGap(value)) {
      if (!Number.isNaN(column)) bar(column, top, bottom)
      column = Number.NaN
      continue
    }
    const here = Math.floor(frame.left + (x[i] - fromS) * perS)
    const at = frame.top + (frame.y[1] - value) * perY
    if (here !== column) {
      const joined = !Number.isNaN(column)
      if (joined) {
        bar(column, top, bottom)
        // A column without a reading is crossed on the way.
        for (let empty = column + 1; empty < here; empty++) {
          const next = before + (at - before) / (here - empty + 1)
          bar(empty, Math.min(before, next), Math.max(before, next))
          before = next
        }
      }
      top = joined ? before : at
      bottom = top
      column = here
    }
    if (at < top) top = at
    if (at > bottom) bottom = at
    before = at
  }
  if (!Number.isNaN(column)) bar(column, top, bottom)
}
