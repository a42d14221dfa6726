import type { Column } from '#ingest/line-protocol/column.ts'
import type { TimedNumbers } from './scale-column.ts'

/** Numbers of a column in the order of time, counted from the earliest point. Shared time axes stay shared. */
export function numbersInOrder(
  column: Column,
  earliestS: number,
  shifted: Set<Float64Array>,
  jumps: { timeS: number; seconds: number }[],
): TimedNumbers {
  const axis = column.axis.timeS
  if (earliestS !== 0 && !shifted.has(axis)) {
    for (let i = 0; i < column.axis.count; i++) axis[i] -= earliestS
    shifted.add(axis)
  }
  const { timeS } = column
  const values = column.values.subarray(0, column.count)
  if (column.outOfOrder === 0) return { timeS, values }
  for (const jump of backwardJumps(timeS)) jumps.push(jump)
  const order = Uint32Array.from(timeS, (_, i) => i).sort((a, b) => timeS[a] - timeS[b] || a - b)
  return {
    timeS: Float64Array.from(order, (i) => timeS[i]),
    values: Float64Array.from(order, (i) => values[i]),
  }
}

/** Lines of one instant may come in any order; more than this is a clock that was set back, [s]. */
const anyOrderS = 1

/**
 * Where the time went back onto times that had already been read: the clock was set. Lines that come late and fill a gap
 * are no jump.
 */
function backwardJumps(timeS: Float64Array): { timeS: number; seconds: number }[] {
  const out: { timeS: number; seconds: number }[] = []
  for (let i = 1; i < timeS.length; i++) {
    const seconds = timeS[i] - timeS[i - 1]
    if (seconds > -anyOrderS) continue
    let next = i - 1
    while (next > 0 && timeS[next - 1] > timeS[i]) next--
    const usual = Math.abs(timeS[i - 1] - timeS[Math.max(0, i - 2)])
    if (timeS[next] - timeS[i] <= Math.max(3 * usual, anyOrderS)) out.push({ timeS: timeS[i], seconds })
  }
  return out
}
