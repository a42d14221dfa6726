import type { Estimate } from '#analysis/model/hold-result.ts'
import { headText, tableText, wetCommand } from './wet-action.ts'

export const command = wetCommand({
  kind: 'flow',
  argument: ['<sheet>', 'flow sheet (YAML): fuel, take-off flow, timed deliveries'],
  operator: 'who measured',
  examples: ['flow recordings/wet/flow.yaml --system recordings/wet/floatplane-wet.yaml'],
  text: ({ verdict, runs, reasons }) =>
    headText(verdict, runs.map(({ run }) => run).join('; '), reasons) +
    tableText([
      ['run', 'verdict', 'L/h', 'needed L/h', '% of take-off'],
      ...runs.map((run) => [
        run.run,
        run.verdict,
        interval(run.flow_L_per_h),
        interval(run.required_L_per_h),
        run.share_percent.toFixed(0),
      ]),
    ]),
})

function interval({ value, low, high }: Estimate): string {
  return `${value.toFixed(1)} (${low.toFixed(1)} to ${high.toFixed(1)})`
}
