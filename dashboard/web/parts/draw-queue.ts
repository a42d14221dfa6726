type Draw = () => void

const waiting = new Set<Draw>()
let frame = 0

function next(): void {
  frame = 0
  const [draw] = waiting
  if (draw === undefined) return
  waiting.delete(draw)
  if (waiting.size > 0) frame = requestAnimationFrame(next)
  draw()
}

/** Draws in a frame to come. Each frame draws one chart only: several on a page share the frames between them. */
export function queueDraw(draw: Draw): void {
  waiting.add(draw)
  if (frame === 0) frame = requestAnimationFrame(next)
}

export const dropDraw = (draw: Draw): boolean => waiting.delete(draw)
