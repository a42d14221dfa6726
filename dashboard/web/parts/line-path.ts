/** Times and values of one line, ascending in time; NaN or null is a gap. */
export interface ChartColumns {
  readonly x: ArrayLike<number>
  readonly y: ArrayLike<number | null>
}

export const noColumns: ChartColumns = { x: [], y: [] }

/** Mapping from numbers to the canvas, in its pixels. */
export interface Frame {
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
  readonly x: readonly [low: number, high: number]
  readonly y: readonly [low: number, high: number]
}

/** The drawing target: a `Path2D`, or a list in a test. */
export interface Pen {
  moveTo(x: number, y: number): void
  lineTo(x: number, y: number): void
}

/** First index whose time is not before `atS`; the length when there is none. */
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

/** Lowest and highest value between two times; [∞, −∞] when there is none. */
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
 * Draws the visible part of a line, extended to the first reading beyond each edge.
 *
 * @returns the number of visible readings, so that a few can be drawn as dots
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
    // A single reading between gaps is a dot: a stroke of zero length.
    if (!drawing) pen.moveTo(at, down)
    pen.lineTo(at, down)
    drawing = true
    if (x[i] >= fromS) seen++
  }
  return seen
}

/** Draws the part of a line in one column of pixels. */
type DrawBar = (column: number, top: number, bottom: number) => void

/** Whether each column of pixels has so many readings that the line is drawn as bars. */
export function isDense({ x }: ChartColumns, { x: [fromS, toS], width }: Frame): boolean {
  const first = firstAt(x, fromS)
  const last = firstAt(x, toS) - 1
  if (last - first < 2) return false
  return last - first > (1.5 * width * (x[last] - x[first])) / (toS - fromS)
}

/**
 * Draws a dense line as one vertical bar a column of pixels, from its lowest to its highest reading and on to the end of
 * the last column's bar: it looks like a line through all the readings, at a fraction of the cost.
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
        // Interpolate across columns without a reading.
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
