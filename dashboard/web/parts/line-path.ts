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
 * Draws the part of a line that is in sight. Of the readings that share a column of pixels only the first, the lowest,
 * the highest and the last are drawn: the picture is the same, and no line costs more than four points a pixel.
 *
 * @returns how many readings were in sight, so that the few of a close look can be shown as dots
 */
export function tracePath({ x, y }: ChartColumns, frame: Frame, pen: Pen): number {
  const perS = frame.width / (frame.x[1] - frame.x[0])
  const perY = frame.height / (frame.y[1] - frame.y[0])
  const across = (at: number): number => frame.left + (at - frame.x[0]) * perS
  const down = (value: number): number => frame.top + (frame.y[1] - value) * perY
  const start = Math.max(0, firstAt(x, frame.x[0]) - 1)
  let seen = 0
  let drawing = false
  let column = Number.NaN
  let last = 0
  let low = 0
  let high = 0
  let lowFirst = true
  let inColumn = 0

  const closeColumn = (): void => {
    if (inColumn < 2) return
    const at = column + 0.5
    if (inColumn > 2 && high !== low) {
      pen.lineTo(at, down(lowFirst ? low : high))
      pen.lineTo(at, down(lowFirst ? high : low))
    }
    pen.lineTo(at, down(last))
  }
  for (let i = start; i < x.length; i++) {
    const value = y[i]
    if (isGap(value)) {
      closeColumn()
      inColumn = 0
      drawing = false
      column = Number.NaN
      continue
    }
    const at = across(x[i])
    const here = Math.floor(at)
    if (here === column) {
      inColumn++
      last = value
      if (value < low) {
        low = value
        lowFirst = false
      }
      if (value > high) {
        high = value
        lowFirst = true
      }
    } else {
      closeColumn()
      if (drawing) pen.lineTo(at, down(value))
      else {
        pen.moveTo(at, down(value))
        // A reading that stands alone between gaps is a dot of no length.
        pen.lineTo(at, down(value))
      }
      drawing = true
      column = here
      inColumn = 1
      last = value
      low = value
      high = value
      lowFirst = true
    }
    if (x[i] >= frame.x[0]) seen++
    if (x[i] > frame.x[1]) break
  }
  closeColumn()
  return seen
}
