import { dirname } from 'node:path'
import type { Command } from 'commander'
import type { Estimate } from '#analysis/model/hold-result.ts'
import { archiveAction } from './archive-action.ts'
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

export function register(program: Command): void {
  wetCommand(program, {
    name: 'flow',
    about: 'check the fuel delivered against what the engine takes at take-off',
    argument: ['<sheet>', 'flow sheet (YAML): fuel, take-off flow, timed deliveries'],
    operator: 'who measured',
    examples: ['flow recordings/wet/flow.yaml --system recordings/wet/floatplane-wet.yaml'],
  }).action((file: string, options: WetOptions) =>
    archiveAction(() => flow(file, options, program.version() ?? '')),
  )
}

function flow(file: string, options: WetOptions, version: string): void {
  const kept = systemAtHand(options.system)
  const beside = recordingsBeside(dirname(file), kept.system)
  const archive = { folder: options.data, version }
  const judged = judgeSheet('flow', readSheetFile(file), kept.system, beside.recording, archive)
  const [{ result }] = judged
  const text =
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
  process.stdout.write(options.json ? `${JSON.stringify(result)}\n` : text)
  sealIfAsked('flow', judged, kept, options, version, { recordings: beside.kept })
  exitWith([result.verdict])
}

function interval({ value, low, high }: Estimate): string {
  return `${value.toFixed(1)} (${low.toFixed(1)} to ${high.toFixed(1)})`
}
