import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import type { Column } from '#ingest/line-protocol/column.ts'
import type { TimedNumbers } from './scale-column.ts'

/** A backward jump of time in the file order of a channel's samples: to `timeS`, by `seconds` < 0. */
interface ClockJump {
  readonly timeS: number
  readonly seconds: number
}

/** Numbers of a column in time order, counted from the earliest point. Shared time axes stay shared. */
export function numbersInOrder(
  column: Column,
  earliestS: number,
  shifted: Set<Float64Array>,
  jumps: ClockJump[],
): TimedNumbers {
  const axis = column.axis.timeS
  if (!shifted.has(axis)) {
    for (let i = 0; i < column.axis.count; i++) axis[i] -= earliestS
    shifted.add(axis)
  }
  const { timeS } = column
  const values = column.values.subarray(0, column.count)
  if (column.outOfOrder === 0) return { timeS, values }
  for (const jump of backwardJumps(timeS, values)) jumps.push(jump)
  const order = Uint32Array.from(timeS, (_, i) => i).sort((a, b) => timeS[a] - timeS[b] || a - b)
  return {
    timeS: Float64Array.from(order, (i) => timeS[i]),
    values: Float64Array.from(order, (i) => values[i]),
  }
}

/** Lines of one instant may come in any order; a larger step back means that the clock was set back, [s]. */
const anyOrderS = 1
/** Two lines closer than this share of the usual step do not come from one continuous clock. */
const crowded = 0.6
/** This many lines in a row before all others: the clock was set back to before the recording. */
const longRun = 10

/**
 * Backward jumps of time: the clock was set back. Either over times that had been read, so that lines are closer
 * together than the logger sends them, or to before the recording.
 *
 * Late lines that fill a gap are not a jump, nor are lines that were sent twice, nor a file in another order.
 */
function backwardJumps(timeS: Float64Array, values: Float64Array): ClockJump[] {
  const out: ClockJump[] = []
  const ordered = Float64Array.from(timeS).sort()
  const nearS = crowded * usualStep(ordered)
  let earliestS = timeS[0]
  let newestS = timeS[0]
  for (let i = 1; i < timeS.length; i++) {
    const seconds = timeS[i] - timeS[i - 1]
    newestS = Math.max(newestS, timeS[i - 1])
    earliestS = Math.min(earliestS, timeS[i - 1])
    if (seconds > -anyOrderS) continue
    let last = i
    while (last + 1 < timeS.length && timeS[last + 1] >= timeS[last] && timeS[last + 1] <= newestS) last++
    const lines = last - i + 1
    let near = 0
    for (let k = i; k <= last; k++) if (isCrowded(ordered, timeS[k], nearS)) near++
    const over = near > 0.5 * lines && !repeats(timeS, values, i, last)
    const before = timeS[last] < earliestS && lines >= longRun
    if (over || before) out.push({ timeS: timeS[i], seconds })
  }
  return out
}

/** Median step between different times. */
function usualStep(ordered: Float64Array): number {
  const stride = Math.max(1, Math.floor(ordered.length / 5000))
  const steps: number[] = []
  for (let i = 1; i < ordered.length; i += stride)
    if (ordered[i] > ordered[i - 1]) steps.push(ordered[i] - ordered[i - 1])
  return steps.sort((a, b) => a - b)[steps.length >> 1] ?? 0
}

/** Whether another line is within `nearS` of the one at `atS`. */
function isCrowded(ordered: Float64Array, atS: number, nearS: number): boolean {
  const low = firstIndexAt(ordered, atS)
  return atS - (ordered[low - 1] ?? Number.NEGATIVE_INFINITY) < nearS || ordered[low + 1] - atS < nearS
}

/** Whether earlier lines have the same times and values: they were sent twice. */
function repeats(timeS: Float64Array, values: Float64Array, from: number, to: number): boolean {
  let before = from - 1
  while (before > 0 && timeS[before] > timeS[from]) before--
  let same = 0
  for (let i = from; i <= to; i++) {
    while (before + 1 < from && timeS[before] < timeS[i]) before++
    if (timeS[before] === timeS[i] && values[before] === values[i]) same++
  }
  return same > 0.9 * (to - from + 1)
}
