import type uPlot from 'uplot'
import { ink } from './brush.ts'
import { type ChartColumns, type Frame, isDense, traceBars, tracePath } from './line-path.ts'

export interface ChartLine {
  readonly label: string
  /** Color token. */
  readonly token: string
  readonly width: number
  readonly dash?: readonly number[]
  /** The points are readings: when they are few, each is a dot. */
  readonly dots?: boolean
}

/** Strokes each line from its own times, clipped to the frame of the chart. */
export function drawLines(
  plot: uPlot,
  view: { readonly columns: readonly ChartColumns[]; readonly x: readonly [number, number] },
  lines: readonly ChartLine[],
): void {
  const { ctx, bbox, scales } = plot
  const frame: Frame = { ...bbox, x: view.x, y: [scales['y']?.min ?? 0, scales['y']?.max ?? 1] }
  ctx.save()
  ctx.beginPath()
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height)
  ctx.clip()
  // Rounded joins dominate the cost of a line of thousands of points, and are invisible on a thin line.
  ctx.lineJoin = 'bevel'
  ctx.lineCap = 'round'
  lines.forEach((line, i) => {
    const columns = view.columns[i]
    if (columns === undefined) return
    const width = line.width * devicePixelRatio
    if (!line.dash && isDense(columns, frame)) {
      const wide = Math.max(1, Math.round(width))
      ctx.fillStyle = ink(line.token)
      traceBars(columns, frame, (column, top, bottom) =>
        ctx.fillRect(column - (wide >> 1), top - width / 2, wide, bottom - top + width),
      )
      return
    }
    const path = new Path2D()
    const seen = tracePath(columns, frame, path)
    ctx.strokeStyle = ink(line.token)
    ctx.lineWidth = width
    ctx.setLineDash(line.dash ? line.dash.map((one) => one * devicePixelRatio) : [])
    ctx.stroke(path)
    if (!line.dots || seen * 14 * devicePixelRatio > bbox.width) return
    // So few that each reading is distinguishable from the line.
    const dots = new Path2D()
    tracePath(columns, frame, { moveTo: () => {}, lineTo: (x, y) => dot(dots, x, y, width * 1.7) })
    ctx.fillStyle = ink(line.token)
    ctx.fill(dots)
  })
  ctx.restore()
}

function dot(path: Path2D, x: number, y: number, radius: number): void {
  path.moveTo(x + radius, y)
  path.arc(x, y, radius, 0, 2 * Math.PI)
}
