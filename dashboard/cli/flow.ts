import { dirname, resolve } from 'node:path'
import type { Command } from 'commander'
import type { System } from '#analysis/model/system.ts'
import { channelFlow } from '#analysis/wet/channel-flow.ts'
import { checkFlow } from '#analysis/wet/check-flow.ts'
import { sealWetWork } from '#dashboard/server/seal-wet-work.ts'
import { SheetError } from '#dashboard/server/wet-sheet-reader.ts'
import { type ReadChannelFlow, readFlowSheet } from '#dashboard/server/wet-sheets.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import {
  exitWith,
  headText,
  readNamedFile,
  readSheetFile,
  systemAtHand,
  tableText,
  type WetOptions,
  wetAction,
  withArchive,
} from './wet-action.ts'

export function register(program: Command): void {
  program
    .command('flow')
    .description('check the fuel delivered against what the engine takes at take-off')
    .argument('<sheet>', 'flow sheet (YAML): fuel, take-off flow, timed deliveries')
    .requiredOption('--system <file>', 'system file of the aircraft')
    .option('--seal', 'seal the result into the archive')
    .option('--data <folder>', 'folder of the archive')
    .option('--operator <name>', 'who measured')
    .option('--witness <name>', 'who watched')
    .option('--json', 'print the result as one JSON object')
    .addHelpText(
      'after',
      '\nExample:\n  $ stillhold flow recordings/wet/flow.yaml --system recordings/wet/floatplane-wet.yaml',
    )
    .action((file: string, options: WetOptions) =>
      wetAction(() => flow(file, options, program.version() ?? '')),
    )
}

function flow(file: string, options: WetOptions, version: string): void {
  const { system, ...kept } = systemAtHand(options.system)
  const sheet = readFlowSheet(readSheetFile(file), system, channelReader(file, system))
  const result = checkFlow(sheet)
  const interval = ({ value, low, high }: { value: number; low: number; high: number }) =>
    `${value.toFixed(1)} (${low.toFixed(1)} to ${high.toFixed(1)})`
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
  if (options.seal) {
    const record = withArchive(options.data, version, false, (archive) =>
      sealWetWork(archive, 'flow', result, kept, options),
    )
    process.stderr.write(`Sealed as ${record.id}.\n`)
  }
  exitWith([result.verdict])
}

/** Recordings are named as seen from the sheet. */
function channelReader(sheetFile: string, system: System): ReadChannelFlow {
  return (id, name, fromS, untilS) => {
    const channel = system.channels.find((one) => one.id === id && one.measures === 'fuel-flow')
    if (!channel) throw new SheetError(`channel ${id}: no fuel-flow channel of the system file`)
    const path = resolve(dirname(sheetFile), name)
    readNamedFile(path)
    const samples = readRecordingFile(path, system).channels.find((one) => one.channel === id)
    const read = samples ? channelFlow(samples, channel, fromS, untilS) : null
    if (!read) throw new SheetError(`${name}: fewer than ten readings of ${id} in that time`)
    return read
  }
}
