import { LTTB } from 'downsample'
import { minMaxColumns } from '#ingest/recording/min-max-columns.ts'
import type { BenchPlan } from './bench-plan.ts'
import { dayColumns } from './day-columns.ts'

export const plans: readonly BenchPlan[] = [
  (quick) => {
    const { timeS, values } = dayColumns(quick ? 864_000 : 8_640_000)
    return {
      kind: 'race',
      name: `min–max of ${timeS.length} points to 4000 slices`,
      run: () => minMaxColumns(timeS, values, 4000).high[7],
      rivals: [
        // One look at every value, keeping the smallest and largest: nothing less finds every peak.
        { name: 'scan for the extremes', run: () => scanExtremes(values), goal: 1 / 3 },
        { name: 'scan for the sum', run: () => scanSum(values), goal: 1 / 3 },
      ],
    }
  },
  (quick) => {
    const { timeS, values } = dayColumns(quick ? 86_400 : 864_000)
    const pairs = Array.from(timeS, (s, k): [number, number] => [s, values[k]])
    return {
      kind: 'race',
      name: `min–max of ${timeS.length} points to 4000 slices, against npm's downsampler`,
      run: () => minMaxColumns(timeS, values, 4000).high[7],
      rivals: [{ name: 'downsample, LTTB of pairs', run: () => LTTB(pairs, 4000).length, goal: null }],
    }
  },
]

function scanExtremes(values: Float64Array): number {
  let low = values[0]
  let high = values[0]
  for (let k = 1; k < values.length; k++) {
    if (values[k] < low) low = values[k]
    if (values[k] > high) high = values[k]
  }
  return high - low
}

function scanSum(values: Float64Array): number {
  let sum = 0
  for (let k = 0; k < values.length; k++) sum += values[k]
  return sum
}
