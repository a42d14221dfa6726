import type uPlot from 'uplot'
import { canvasFont, canvasSize } from './canvas-font.ts'
import { ink } from './ink.ts'
import { placeWords } from './place-words.ts'

interface DrawnMark {
  readonly timeS: number
  readonly kind: string
  readonly id: string | null
  readonly text: string
}

/** Words of a mark, cut where they would hide much of the chart. */
const MOST = 28

const wordsOf = ({ id, text }: DrawnMark): string => {
  const words = [id, text].filter(Boolean).join(' ')
  return words.length > MOST ? `${words.slice(0, MOST - 1)}…` : words
}

/** Marks as flags along the top of a chart, their words under each other where they stand close. */
export function drawMarks(plot: uPlot, marks: readonly DrawnMark[]): void {
  const { ctx, bbox } = plot
  const dpr = devicePixelRatio
  ctx.save()
  ctx.font = canvasFont()
  ctx.textAlign = 'left'
  ctx.textBaseline = 'top'
  const [left, right] = [bbox.left, bbox.left + bbox.width]
  const seen = marks
    .map((mark) => ({ mark, words: wordsOf(mark), x: plot.valToPos(mark.timeS, 'x', true) }))
    .filter(({ x }) => x >= left && x <= right)
    .sort((a, b) => a.x - b.x)
  const placed = placeWords(
    seen.map(({ x, words }) => ({ at: x, width: ctx.measureText(words).width })),
    [left, right],
    4 * dpr,
  )
  const lineHeight = 1.25 * canvasSize()
  for (const [i, { mark, words, x }] of seen.entries()) {
    const trouble = mark.kind === 'fault' || mark.kind === 'gap' || mark.kind === 'clock'
    const stage = mark.kind === 'stage'
    ctx.strokeStyle = ink(trouble ? '--void' : stage ? '--edge' : '--ink')
    ctx.fillStyle = ink(trouble ? '--void' : stage ? '--ink-soft' : '--ink')
    ctx.lineWidth = dpr
    ctx.setLineDash(stage ? [2 * dpr, 4 * dpr] : [])
    ctx.beginPath()
    ctx.moveTo(x, bbox.top)
    ctx.lineTo(x, bbox.top + bbox.height)
    ctx.stroke()
    const place = placed[i]
    if (place) ctx.fillText(words, place.from, bbox.top + 3 * dpr + place.line * lineHeight)
  }
  ctx.restore()
}
