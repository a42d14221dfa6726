import { linearRegression } from 'simple-statistics'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import type { BenchPlan } from './bench-plan.ts'
import { dayColumns } from './day-columns.ts'

export const plans: readonly BenchPlan[] = [
  (quick) => {
    const { timeS, values } = dayColumns(quick ? 864_000 : 8_640_000)
    return {
      kind: 'race',
      name: `straight line through ${timeS.length} points`,
      run: () => straightLine(timeS, values).slope,
      rivals: [{ name: 'scan of both columns for the sum', run: () => scanBoth(timeS, values), goal: 1 / 3 }],
    }
  },
  (quick) => {
    const { timeS, values } = dayColumns(quick ? 86_400 : 864_000)
    const pairs = Array.from(timeS, (s, k) => [s, values[k]])
    return {
      kind: 'race',
      name: `straight line through ${timeS.length} points, against simple-statistics`,
      run: () => straightLine(timeS, values).slope,
      rivals: [{ name: 'linearRegression of pairs', run: () => linearRegression(pairs).m, goal: null }],
    }
  },
]

function scanBoth(timeS: Float64Array, values: Float64Array): number {
  let sum = 0
  for (let k = 0; k < values.length; k++) sum += timeS[k] + values[k]
  return sum
}
