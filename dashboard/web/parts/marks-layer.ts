import { markWord } from '../words.ts'
import { type Brush, canvasFont, canvasSize, ink } from './brush.ts'
import { placeWords } from './place-words.ts'

interface DrawnMark {
  readonly timeS: number
  readonly kind: string
  readonly id: string | null
  readonly text: string
}

/** Longest text of a mark, [characters]: longer text would hide much of the chart. */
const MOST = 28

const wordsOf = ({ id, text }: DrawnMark): string => {
  const words = [id, markWord(text)].filter(Boolean).join(' ')
  return words.length > MOST ? `${words.slice(0, MOST - 1)}…` : words
}

/** Marks as flags along the top of a chart; texts of close marks are stacked. */
export function drawMarks({ plot, upright }: Brush, marks: readonly DrawnMark[]): void {
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
  for (const [i, { mark, words }] of seen.entries()) {
    const trouble = /^(fault|gap|clock)$/.test(mark.kind)
    const stage = mark.kind === 'stage'
    const token = trouble ? '--void' : stage ? '--edge' : '--ink'
    upright(mark.timeS, { token, width: 1, dash: stage ? [2, 4] : [] })
    const place = placed[i]
    ctx.fillStyle = ink(stage ? '--ink-soft' : token)
    if (place) ctx.fillText(words, place.from, bbox.top + 3 * dpr + place.line * 1.25 * canvasSize())
  }
  ctx.restore()
}
