import { rangeFor } from '#analysis/fuel-work/judge-torque.ts'
import { rangeWords } from '#analysis/hunt/torque-tables.ts'
import type { System } from '#analysis/model/system.ts'
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
  argument: ['[sheet]', 'work sheet (YAML); without it the ranges are printed'],
  seals: 'seal each line into the archive, where ledger and hunt read it',
  operator: null,
  examples: [
    'torque --system recordings/wet/floatplane-wet.yaml',
    'torque recordings/wet/work.yaml --system recordings/wet/floatplane-wet.yaml --seal',
  ],
  run: torque,
})

function torque(file: string | undefined, options: WetOptions): void {
  const kept = systemAtHand(options.system)
  if (file === undefined) {
    printRanges(kept.system, options.json ?? false)
    return
  }
  const { recording } = recordingsBeside('.', kept.system)
  const judged = judgeSheet('work', readSheetFile(file), kept.system, recording, options.data)
  for (const { result } of judged)
    printResult(options, result, () =>
      headText(result.verdict, `${result.id} ${result.action}, by ${result.by}`, result.reasons),
    )
  sealIfAsked('work', judged, kept, options)
  exitWith(judged.map(({ result }) => result.verdict))
}

function printRanges(system: System, json: boolean): void {
  const ranges = system.fittings.map((fitting) => ({ fitting, range: rangeFor(fitting, null, null) }))
  if (json) {
    for (const { fitting, range } of ranges)
      process.stdout.write(
        `${JSON.stringify({ id: fitting.id, range_low_Nm: range?.lowNm ?? null, range_high_Nm: range?.highNm ?? null, range_source: range?.source ?? null, range_for: range?.purpose ?? null, threads: range?.threads ?? null })}\n`,
      )
    return
  }
  const rows = ranges.map(({ fitting, range }) => [
    fitting.id,
    [fitting.kind, fitting.size, fitting.material].filter(Boolean).join(' '),
    range ? rangeWords(range) : 'the maker’s figure',
  ])
  process.stdout.write(
    `${tableText([['joint', 'kind', 'torque'], ...rows])}  The maker’s range comes first. A self-locking nut takes its run-on torque on top (AC 43.13-1B 7-40 d).\n`,
  )
}
