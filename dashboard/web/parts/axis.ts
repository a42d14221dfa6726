import type uPlot from 'uplot'
import { clock, digits, moment } from '../quantity.ts'

/** Natural steps of the time axis, [s]. */
export const timeSteps = [
  0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800,
  21_600, 43_200, 86_400,
]
/** Steps of an axis of days, [s]: hours, a day, a week, a month, a quarter, a year. */
const daySteps = [3600, 21_600, 86_400, 604_800, 2_592_000, 7_862_400, 31_536_000, 315_360_000]

/** Labels with as many decimals as the step needs, so that no two are equal. */
export const numberLabels = (splits: readonly number[], step: number): string[] => {
  const decimals = Math.min(7, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)))
  // A step of 2.5 needs one decimal more than a step of 2.
  const exact = Math.abs(step * 10 ** decimals - Math.round(step * 10 ** decimals)) < 1e-6
  return splits.map((at) => digits(at, exact ? decimals : decimals + 1))
}

/** Minutes and seconds from `zeroS`; steps below a second show the fraction. */
export const timeLabels = (splits: readonly number[], step: number, zeroS: number): string[] =>
  splits.map((at) => {
    const t = at - zeroS
    const sign = t < -1e-9 ? '−' : ''
    const size = Math.abs(t)
    if (step >= 1) return sign + clock(size)
    const decimals = step >= 0.1 ? 1 : 2
    const minutes = Math.floor((size + 1e-9) / 60)
    return `${sign}${minutes}:${(size - minutes * 60).toFixed(decimals).padStart(3 + decimals, '0')}`
  })

/** Labels in days, or hours of a day, from seconds since the epoch. */
const dayLabels = (splits: readonly number[], step: number): string[] =>
  splits.map((at) => moment(new Date(at * 1000).toISOString()).slice(...(step < 86_400 ? [5] : [0, 10])))

/** Ticks fall on round distances from `zeroS`, not on round seconds of the recording. */
export function timeSplits(zeroS: number, low: number, high: number, step: number): number[] {
  const first = Math.ceil((low - zeroS) / step - 1e-9)
  const last = Math.floor((high - zeroS) / step + 1e-9)
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, i) => zeroS + (first + i) * step)
}

/** Quantity of the horizontal axis: time from a zero, days, or a number. */
export type Across = 'time' | 'day' | 'number'

/** Label of one position on the axis, for the reading under the pointer. */
export const wordsAt = (across: Across, at: number, zeroS: number): string =>
  (across === 'time'
    ? timeLabels([at], 0.1, zeroS)
    : across === 'day'
      ? dayLabels([at], 0)
      : numberLabels([at], 0.1)
  ).join()

export const axisAcross = (across: Across, zero: () => number): uPlot.Axis =>
  across === 'number'
    ? { values: (_, splits, __, ___, step) => numberLabels(splits, step) }
    : across === 'day'
      ? { incrs: daySteps, values: (_, splits, __, ___, step) => dayLabels(splits, step) }
      : {
          incrs: timeSteps,
          splits: (_, __, low, high, step) => timeSplits(zero(), low, high, step),
          values: (_, splits, __, ___, step) => timeLabels(splits, step, zero()),
        }
