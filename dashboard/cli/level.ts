import type { Command } from 'commander'
import { calibrateLevel } from '#analysis/wet/calibrate-level.ts'
import type { LevelResult } from '#analysis/wet/level-result.ts'
import { sealWetWork } from '#dashboard/server/seal-wet-work.ts'
import { SheetError } from '#dashboard/server/wet-sheet-reader.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import {
  exitWith,
  headText,
  readNamedFile,
  systemAtHand,
  tableText,
  type WetOptions,
  wetAction,
  withArchive,
} from './wet-action.ts'

interface LevelOptions extends WetOptions {
  readonly channel: string
  readonly steps: string
}

export function register(program: Command): void {
  program
    .command('level')
    .description('calibrate a level sender against known fuel added')
    .argument('<recording...>', 'recordings with fill marks')
    .requiredOption('--system <file>', 'system file of the aircraft')
    .requiredOption('--channel <id>', 'channel of the level sender')
    .option('--steps <count>', 'parts of the gauge’s scale', '8')
    .option('--seal', 'seal the result into the archive')
    .option('--data <folder>', 'folder of the archive')
    .option('--operator <name>', 'who calibrated')
    .option('--witness <name>', 'who watched')
    .option('--json', 'print the result as one JSON object')
    .addHelpText(
      'after',
      '\nExample:\n  $ stillhold level recordings/wet/left-sender.lp --system recordings/wet/floatplane-wet.yaml --channel sender-left',
    )
    .action((files: string[], options: LevelOptions) =>
      wetAction(() => level(files, options, program.version() ?? '')),
    )
}

function level(files: readonly string[], options: LevelOptions, version: string): void {
  const { system, ...kept } = systemAtHand(options.system)
  const channel = system.channels.find(({ id }) => id === options.channel)
  if (channel?.measures !== 'level-sender') {
    const known = system.channels.filter(({ measures }) => measures === 'level-sender').map(({ id }) => id)
    throw new SheetError(
      `--channel ${options.channel}: no level sender of ${options.system}; it has ${known.join(', ') || 'none'}`,
    )
  }
  const steps = Number(options.steps)
  if (!Number.isInteger(steps) || steps < 2 || steps > 64)
    throw new SheetError(`--steps ${options.steps}: a whole number from 2 to 64`)
  const section = system.sections.find(({ id }) => id === channel.section)!
  const recordings = files.map((file) => {
    readNamedFile(file)
    return readRecordingFile(file, system)
  })
  const result = calibrateLevel(recordings, channel, section, steps)
  process.stdout.write(options.json ? `${JSON.stringify(result)}\n` : levelText(result))
  if (options.seal) {
    if (files.length > 1) throw new SheetError('--seal takes one recording: seal each with its own')
    const record = withArchive(options.data, version, false, (archive) =>
      sealWetWork(archive, 'level', result, kept, { ...options, recordingPath: files[0] }),
    )
    process.stderr.write(`Sealed as ${record.id}.\n`)
  }
  exitWith([result.verdict])
}

/** The verdict, the table for the gauge maker, a drawing of it, and what was left out. */
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
