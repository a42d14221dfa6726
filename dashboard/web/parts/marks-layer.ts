import type uPlot from 'uplot'
import { canvasFont } from './canvas-font.ts'
import { ink } from './ink.ts'

interface DrawnMark {
  readonly timeS: number
  readonly kind: string
  readonly id: string | null
  readonly text: string
}

/** Marks as flags along the top of a chart; words are left out where the next flag stands too near. */
export function drawMarks(plot: uPlot, marks: readonly DrawnMark[]): void {
  const { ctx, bbox } = plot
  const dpr = devicePixelRatio
  ctx.save()
  ctx.font = canvasFont()
  ctx.textAlign = 'left'
  ctx.textBaseline = 'top'
  let freeFrom = Number.NEGATIVE_INFINITY
  for (const mark of marks) {
    const x = plot.valToPos(mark.timeS, 'x', true)
    if (x < bbox.left || x > bbox.left + bbox.width) continue
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
    const words = [mark.id, mark.text].filter(Boolean).join(' ').slice(0, 28)
    const width = ctx.measureText(words).width
    if (x + 4 * dpr > freeFrom && x + width + 8 * dpr < bbox.left + bbox.width) {
      ctx.setLineDash([])
      ctx.fillText(words, x + 4 * dpr, bbox.top + 3 * dpr)
      freeFrom = x + width + 14 * dpr
    }
  }
  ctx.restore()
}
