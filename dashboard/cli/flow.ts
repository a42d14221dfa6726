import { dirname } from 'node:path'
import type { Estimate } from '#analysis/model/hold-result.ts'
import { printResult } from './command.ts'
import {
  exitWith,
  headText,
  judgeSheet,
  readSheetFile,
  recordingsBeside,
  sealIfAsked,
  systemAtHand,
  tableText,
  type WetOptions,
  wetCommand,
} from './wet-action.ts'

export const command = wetCommand({
  argument: ['<sheet>', 'flow sheet (YAML): fuel, take-off flow, timed deliveries'],
  operator: 'who measured',
  examples: ['flow recordings/wet/flow.yaml --system recordings/wet/floatplane-wet.yaml'],
  run: flow,
})

function flow(file: string, options: WetOptions): void {
  const kept = systemAtHand(options.system)
  const beside = recordingsBeside(dirname(file), kept.system)
  const judged = judgeSheet('flow', readSheetFile(file), kept.system, beside.recording, options.data)
  const [{ result }] = judged
  const text = () =>
    headText(result.verdict, result.runs.map(({ run }) => run).join('; '), result.reasons) +
    tableText([
      ['run', 'verdict', 'L/h', 'needed L/h', '% of take-off'],
      ...result.runs.map((run) => [
        run.run,
        run.verdict,
        interval(run.flow_L_per_h),
        interval(run.required_L_per_h),
        run.share_percent.toFixed(0),
      ]),
    ])
  printResult(options, result, text)
  sealIfAsked('flow', judged, kept, options, { recordings: beside.kept })
  exitWith([result.verdict])
}

function interval({ value, low, high }: Estimate): string {
  return `${value.toFixed(1)} (${low.toFixed(1)} to ${high.toFixed(1)})`
}
