import { blockAverages } from '#analysis/signal/block-averages.ts'
import type { BenchPlan } from './bench-plan.ts'
import { dayColumns } from './day-columns.ts'

const goal = 1 / 3

export const plans: readonly BenchPlan[] = [
  ...[200, 20_000].map(
    (blocks): BenchPlan =>
      (quick) => {
        const { timeS, values } = dayColumns(quick ? 864_000 : 8_640_000)
        const lengthS = timeS[timeS.length - 1] / blocks
        const edges = Float64Array.from({ length: blocks + 1 }, (_, k) => k * lengthS)
        return {
          kind: 'race',
          name: `${blocks} block means of ${values.length} points without their spikes`,
          run: () => blockAverages(timeS, values, edges, 0.5).mean[7],
          rivals: [{ name: 'scan for the sum', run: () => scanSum(values), goal }],
        }
      },
  ),
]

function scanSum(values: Float64Array): number {
  let sum = 0
  for (let k = 0; k < values.length; k++) sum += values[k]
  return sum
}
