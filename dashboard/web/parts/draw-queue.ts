type Draw = () => void

const waiting = new Set<Draw>()
let frame = 0
let taken = false

function next(): void {
  frame = 0
  const [draw] = waiting
  if (draw === undefined) return
  if (!taken) waiting.delete(draw)
  if (waiting.size > 0) frame = requestAnimationFrame(next)
  if (taken) taken = false
  else draw()
}

/** Queues a draw. Each frame draws one chart only: several charts on a page take turns. */
export function queueDraw(draw: Draw): void {
  waiting.add(draw)
  if (frame === 0) frame = requestAnimationFrame(next)
}

export const dropDraw = (draw: Draw): boolean => waiting.delete(draw)

/** Reserves the next frame for text and figures: charts wait for the one after it. */
export function takeFrame(): void {
  taken = true
}
