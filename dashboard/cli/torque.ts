import type { Command } from 'commander'
import { judgeTorque, rangeFor } from '#analysis/wet/judge-torque.ts'
import { sealWetWork } from '#dashboard/server/seal-wet-work.ts'
import { readWorkSheet } from '#dashboard/server/wet-sheets.ts'
import {
  exitWith,
  headText,
  readSheetFile,
  systemAtHand,
  tableText,
  type WetOptions,
  wetAction,
  withArchive,
} from './wet-action.ts'

export function register(program: Command): void {
  program
    .command('torque')
    .description('torque of every fitting: print the ranges, or judge a work sheet')
    .argument('[sheet]', 'work sheet (YAML); without it the ranges are printed')
    .requiredOption('--system <file>', 'system file of the aircraft')
    .option('--seal', 'seal each line into the archive, where ledger and hunt read it')
    .option('--data <folder>', 'folder of the archive')
    .option('--witness <name>', 'who watched')
    .option('--json', 'print one JSON object a line')
    .addHelpText(
      'after',
      '\nExamples:\n  $ stillhold torque --system recordings/wet/floatplane-wet.yaml\n  $ stillhold torque recordings/wet/work.yaml --system recordings/wet/floatplane-wet.yaml --seal',
    )
    .action((file: string | undefined, options: WetOptions) =>
      wetAction(() => torque(file, options, program.version() ?? '')),
    )
}

function torque(file: string | undefined, options: WetOptions, version: string): void {
  const { system, ...kept } = systemAtHand(options.system)
  if (file === undefined) {
    const ranges = system.fittings.map((fitting) => ({ fitting, range: rangeFor(fitting, null, null) }))
    if (options.json) {
      for (const { fitting, range } of ranges)
        process.stdout.write(
          `${JSON.stringify({ id: fitting.id, range_low_Nm: range?.lowNm ?? null, range_high_Nm: range?.highNm ?? null, range_source: range?.source ?? null })}\n`,
        )
      return
    }
    const rows = ranges.map(({ fitting, range }) => [
      fitting.id,
      [fitting.kind, fitting.size, fitting.material].filter(Boolean).join(' '),
      range ? `${range.lowNm.toFixed(1)} to ${range.highNm.toFixed(1)}` : '–',
      range?.source ?? 'the maker’s figure',
    ])
    process.stdout.write(tableText([['fitting', 'kind', 'N·m', 'source'], ...rows]))
    return
  }
  const results = readWorkSheet(readSheetFile(file), system).map((entry) =>
    judgeTorque(system.fittings.find(({ id }) => id === entry.fitting)!, entry),
  )
  for (const result of results)
    process.stdout.write(
      options.json
        ? `${JSON.stringify(result)}\n`
        : headText(result.verdict, `${result.id} ${result.action}, by ${result.by}`, result.reasons),
    )
  if (options.seal) {
    withArchive(options.data, version, false, (archive) => {
      for (const result of results) {
        const record = sealWetWork(archive, 'work', result, kept, {
          operator: result.by,
          witness: options.witness,
        })
        process.stderr.write(`Sealed as ${record.id}.\n`)
      }
    })
  }
  exitWith(results.map(({ verdict }) => verdict))
}
