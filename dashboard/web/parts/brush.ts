import { signal } from '@preact/signals'
import type uPlot from 'uplot'
import { theme } from '../theme.ts'

let known = new Map<string, string>()
let knownFor = ''

/** Color of a token in the current theme; a canvas cannot read custom properties. */
export function ink(token: string): string {
  if (knownFor !== theme.peek()) {
    known = new Map()
    knownFor = theme.peek()
  }
  let color = known.get(token)
  if (color === undefined) {
    color = getComputedStyle(document.documentElement).getPropertyValue(token).trim()
    known.set(token, color)
  }
  return color
}

/** Font size of the page, [px]; a chart is rebuilt when it changes, since a canvas does not scale with it. */
const rootSize = (): number => Number.parseFloat(getComputedStyle(document.documentElement).fontSize)
export const remPx = signal(rootSize())
addEventListener('resize', () => {
  remPx.value = rootSize()
})

/** The small step of the type scale in canvas pixels; a canvas has no `rem`. */
export const canvasSize = (): number => 0.8 * remPx.peek() * devicePixelRatio
export const canvasFont = (weight: 400 | 600 = 400): string =>
  `${weight} ${canvasSize()}px "Stillhold Sans", sans-serif`

type Point = readonly [x: number, y: number]

interface Stroke {
  /** Color token. */
  readonly token: string
  /** [px]; 0 for a shape that is only filled. */
  readonly width?: number
  readonly dash?: readonly number[]
  /** Opacity, 0 to 1. */
  readonly alpha?: number
  /** Filled, not stroked. */
  readonly fill?: boolean
  /** Drawn beneath the existing content. */
  readonly under?: boolean
}

interface Words {
  readonly token: string
  /** Offset from the point, [px]. */
  readonly dx?: number
  readonly dy?: number
  readonly weight?: 400 | 600
}

/** An edge of the frame. */
export const edge = Number.POSITIVE_INFINITY

/** Draws on a chart in axis values; an infinite value is an edge of the frame. */
export function brushOn(plot: uPlot) {
  const { ctx, bbox } = plot
  const dpr = devicePixelRatio
  const [right, bottom] = [bbox.left + bbox.width, bbox.top + bbox.height]
  const along = (at: number, scale: 'x' | 'y', low: number, high: number): number =>
    Number.isFinite(at) ? plot.valToPos(at, scale, true) : at < 0 ? low : high
  const x = (at: number): number => along(at, 'x', bbox.left, right)
  // Clamped: a point far outside the frame must stay within the numbers that a canvas can draw.
  const y = (at: number): number => Math.max(-1e5, Math.min(1e5, along(at, 'y', bottom, bbox.top)))

  function color({ token, width = 2, dash = [], alpha = 1, under = false }: Stroke): void {
    ctx.strokeStyle = ink(token)
    ctx.fillStyle = ink(token)
    ctx.lineWidth = width * dpr
    ctx.setLineDash(dash.map((one) => one * dpr))
    ctx.globalAlpha = alpha
    if (under) ctx.globalCompositeOperation = 'destination-over'
  }
  /** A line through points, or the area that it encloses, clipped to the frame. */
  function line(points: readonly Point[], stroke: Stroke): void {
    ctx.save()
    ctx.beginPath()
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height)
    ctx.clip()
    color(stroke)
    ctx.beginPath()
    for (const [at, value] of points) ctx.lineTo(x(at), y(value))
    if (stroke.fill) ctx.fill()
    else ctx.stroke()
    ctx.restore()
  }
  return {
    plot,
    line,
    /** Horizontal line at one value. */
    level: (value: number, stroke: Stroke) =>
      line(
        [-1, 1].map((end) => [end * edge, value]),
        stroke,
      ),
    /** Vertical line at one place, over the full height or between two values. */
    upright: (at: number, stroke: Stroke, ends = [-edge, edge]) =>
      line(
        ends.map((value) => [at, value]),
        stroke,
      ),
    /** A shape of fixed size, [px], around a point; a point outside the frame is moved to its edge. */
    shape(path: string, [at, value]: Point, stroke: Stroke): void {
      ctx.save()
      ctx.translate(x(at), Math.min(bottom, Math.max(bbox.top, y(value))))
      ctx.scale(dpr, dpr)
      color({ ...stroke, width: (stroke.width ?? 2) / dpr })
      if (stroke.fill) ctx.fill(new Path2D(path))
      else ctx.stroke(new Path2D(path))
      ctx.restore()
    },
    /** Text that ends at a point, above or below it by the sign of `dy`, and within the right edge. */
    words(text: string, [at, value]: Point, { token, dx = -6, dy = -4, weight = 600 }: Words): void {
      const down = y(value)
      if (down < bbox.top - 1 || down > bottom + 1) return
      ctx.save()
      ctx.fillStyle = ink(token)
      ctx.font = canvasFont(weight)
      ctx.textAlign = 'right'
      ctx.textBaseline = dy > 0 ? 'top' : 'bottom'
      ctx.fillText(text, Math.min(x(at), right) + dx * dpr, down + dy * dpr)
      ctx.restore()
    },
  }
}

export type Brush = ReturnType<typeof brushOn>

/** A circle for `Brush.shape`. */
export const circle = (radius: number): string =>
  `M${radius} 0A${radius} ${radius} 0 1 1 ${-radius} 0A${radius} ${radius} 0 1 1 ${radius} 0Z`
