import type uPlot from 'uplot'
import { clock, digits } from '../quantity.ts'

/** Steps of the axis of time that people count in, [s]. */
export const timeSteps = [
  0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800,
  21_600, 43_200, 86_400,
]

/** As many decimals as the step needs, so that no two labels read the same. */
export const numberLabels = (_: uPlot, splits: number[], __: number, ___: number, step: number): string[] => {
  const decimals = Math.min(7, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)))
  // A step of 2.5 needs one decimal more than a step of 2.
  const exact = Math.abs(step * 10 ** decimals - Math.round(step * 10 ** decimals)) < 1e-6
  return splits.map((at) => digits(at, exact ? decimals : decimals + 1))
}

/** Minutes and seconds from `zeroS`; below a second the fraction is written out. */
export const timeLabels =
  (zeroS: () => number) =>
  (_: uPlot, splits: number[], __: number, ___: number, step: number): string[] =>
    splits.map((at) => {
      const t = at - zeroS()
      const sign = t < -1e-9 ? '−' : ''
      const size = Math.abs(t)
      if (step >= 1) return sign + clock(size)
      const decimals = step >= 0.1 ? 1 : 2
      const minutes = Math.floor((size + 1e-9) / 60)
      return `${sign}${minutes}:${(size - minutes * 60).toFixed(decimals).padStart(3 + decimals, '0')}`
    })

/** Time ticks fall on round distances from `zeroS`, not on round seconds of the recording. */
export const timeSplits =
  (zeroS: () => number) =>
  (_: uPlot, __: number, low: number, high: number, step: number): number[] => {
    const zero = zeroS()
    const first = Math.ceil((low - zero) / step - 1e-9)
    const last = Math.floor((high - zero) / step + 1e-9)
    const splits: number[] = []
    for (let i = first; i <= last; i++) splits.push(zero + i * step)
    return splits
  }
