import { minMaxColumns } from '#ingest/recording/min-max-columns.ts'
import type { BenchPlan } from './bench-plan.ts'

export const plans: readonly BenchPlan[] = [
  (quick) => {
    const count = quick ? 864_000 : 8_640_000
    const timeS = Float64Array.from({ length: count }, (_, k) => k / 100)
    const values = Float64Array.from(
      { length: count },
      (_, k) => Math.sin(k / 1e5) + ((k * 7919) % 1000) / 1e4,
    )
    return {
      kind: 'race',
      name: `min–max of ${count} points to 4000 slices`,
      run: () => minMaxColumns(timeS, values, 4000).high[7],
      rivals: [
        // One look at every value, keeping the smallest and largest: nothing less finds every peak.
        { name: 'scan for the extremes', run: () => scanExtremes(values), goal: 1 / 3 },
        { name: 'scan for the sum', run: () => scanSum(values), goal: 1 / 3 },
      ],
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
