import { basename, dirname } from 'node:path'
import type { LevelResult } from '#analysis/fuel-work/calibrate-level.ts'
import type { System } from '#analysis/model/system.ts'
import {
  headText,
  readSheetFile,
  recordingsBeside,
  tableText,
  type WetOptions,
  wetCommand,
} from './wet-action.ts'

interface LevelOptions extends WetOptions {
  readonly channel?: string
  readonly steps: string
}

export const command = wetCommand({
  kind: 'level',
  argument: [
    '<file...>',
    'recordings with fill marks, or a level sheet (YAML) with figures typed from the panel',
  ],
  operator: 'who calibrated',
  options: [
    ['--channel <id>', 'channel of the level sender that the recordings read'],
    ['--steps <count>', 'parts of the gauge’s scale', '8'],
  ],
  examples: [
    'level recordings/wet/left-sender.lp --system recordings/wet/floatplane-wet.yaml --channel sender-left',
    'level recordings/wet/right-panel.yaml --system recordings/wet/floatplane-wet.yaml',
  ],
  read(files: readonly string[], { channel, steps }: LevelOptions, system: System) {
    const [first = '', ...others] = files
    const isSheet = others.length === 0 && /\.ya?ml$/.test(first)
    const { recording, kept } = recordingsBeside(isSheet ? dirname(first) : '.', system)
    return {
      sheet: isSheet
        ? readSheetFile(first)
        : { channel, steps: Number(steps), recordings: files.map((file) => basename(file)) },
      recording: (name) => recording(isSheet ? name : files.find((file) => basename(file) === name)!),
      files: { recordings: kept },
    }
  },
  text: levelText,
})

/** The verdict, the table for the gauge maker, its drawing, and the omitted data. */
function levelText(result: LevelResult): string {
  let text = headText(result.verdict, `${result.channel}, ${result.section}`, result.reasons)
  const cell = (value: number | null, decimals: number): string =>
    value === null ? '–' : value.toFixed(decimals).replace(/^-(0\.?0*)$/, '$1')
  for (const [attitude, steps] of [
    ['level', result.steps_level],
    ['ground', result.steps_ground],
  ] as const) {
    if (steps.length === 0) continue
    text += `\n  Table in ${attitude} attitude; 95 % intervals\n`
    text += tableText([
      ['step', 'usable L', result.reading_unit, 'from', 'to', 'stands for L'],
      ...steps.map((s) => [
        s.step,
        cell(s.usable_L, 1),
        cell(s.reading, 1),
        cell(s.reading_low, 1),
        cell(s.reading_high, 1),
        s.usable_low_L === null ? '–' : `${cell(s.usable_low_L, 1)} to ${cell(s.usable_high_L, 1)}`,
      ]),
    ])
    const readings = steps.flatMap(({ reading }) => (reading === null ? [] : [reading]))
    const [low, high] = [Math.min(...readings), Math.max(...readings)]
    if (high > low)
      text += steps
        .map(
          (s) =>
            `  ${s.step.padEnd(6)}|${s.reading === null ? ' not read' : `${' '.repeat(Math.round((48 * (s.reading - low)) / (high - low)))}o`}\n`,
        )
        .join('')
  }
  if (result.hysteresis) {
    const { span_percent, fuel_L } = result.hysteresis
    text += `\n  Up and down differ by ${span_percent.toFixed(1)} % of the span, ${fuel_L.toFixed(1)} L at most.\n`
  }
  for (const one of result.rejected)
    text += `  Left out: ${one.usable_L.toFixed(1)} L ${one.direction}, ${one.reading?.toFixed(1) ?? 'no reading'}: ${one.message}.\n`
  return text
}
