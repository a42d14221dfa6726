import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import { type EqualRun, equalRuns } from '#analysis/signal/equal-runs.ts'

/** Fewer equal readings than this may be chance. */
const fewestReadings = 30
/** Share of the hold that a thermometer may stand still, and times that its other runs are shorter. Own figures. */
const mostStill = 0.25
const timesLonger = 8

/** A coarse thermometer of no more different readings than this stands on the edge between two of its steps and goes from one to the next when the room does. Own figure. */
const fewLevels = 2

/** A thermometer whose readings go in steps of at least this stands still in a quiet room, [K]. Own figure. */
export const coarseStepK = 0.04

/**
 * Whether a thermometer stood still as a dead one does: it repeated one reading through the whole hold, or for a good part
 * of it although its readings change at once elsewhere. A coarse one in a quiet room stands still through a hold too: it is
 * taken for alive where it moved by its step elsewhere in the recording, and the step counts as unseen.
 */
export function thermometerStill(
  timeS: Float64Array,
  reading: Float64Array,
  holdS: number,
  untilS: number,
): boolean {
  const from = firstIndexAt(timeS, holdS)
  const to = firstIndexAt(timeS, untilS)
  const { longest, nextLength } = equalRuns(reading, from, to)
  if (longest.length < fewestReadings) return false
  const others = to - from - longest.length
  if (others === 0) return !(stepOf(reading) >= coarseStepK)
  const lastedS = timeS[longest.from + longest.length - 1] - timeS[longest.from]
  if (lastedS < mostStill * (untilS - holdS)) return false
  const coarse = stepOf(reading) >= coarseStepK
  if (coarse && levelsOf(reading) <= fewLevels) return false
  if (others >= fewestReadings) return longest.length > timesLonger * nextLength
  // Hardly another reading in the hold: what it did before and after tells, unless its steps are coarse.
  if (coarse) return false
  return longest.length > timesLonger * Math.max(nextLength, longestElsewhere(reading, longest))
}

/** Longest run of equal readings outside a run, which goes on beyond the hold as far as the reading is the same. */
function longestElsewhere(reading: Float64Array, run: EqualRun): number {
  let { from } = run
  let to = from + run.length
  const value = reading[from]
  while (from > 0 && reading[from - 1] === value) from--
  while (to < reading.length && reading[to] === value) to++
  return Math.max(equalRuns(reading, 0, from).longest.length, equalRuns(reading, to).longest.length)
}

/** Whether a thermometer read the same throughout the recording. */
export function neverMoved(reading: Float64Array): boolean {
  return Number.isNaN(stepOf(reading))
}

/** How many different readings there are, counted no further than needed. */
function levelsOf(reading: Float64Array): number {
  const seen = new Set<number>()
  for (const value of reading) {
    if (!Number.isFinite(value)) continue
    seen.add(Math.round(value / 1e-6))
    if (seen.size > fewLevels) break
  }
  return seen.size
}

/** Smallest step between one reading and the next, in the reading's unit; NaN where none changed. */
function stepOf(reading: Float64Array): number {
  let least = Number.NaN
  for (let i = 1; i < reading.length; i++) {
    const step = Math.abs(reading[i] - reading[i - 1])
    // A rounding of text or doubles is no step, nor is the error code of a lost sensor.
    if (step > 1e-6 && step < 5 && !(step >= least)) least = step
  }
  return least
}
