import { rangeFor } from '#analysis/fuel-work/judge-torque.ts'
import { rangeWords } from '#analysis/hunt/torque-tables.ts'
import type { System } from '#analysis/model/system.ts'
import { headText, tableText, type WetOptions, wetCommand } from './wet-action.ts'

export const command = wetCommand({
  kind: 'work',
  argument: ['[sheet]', 'work sheet (YAML); without it the ranges are printed'],
  seals: 'seal each line into the archive, where ledger and hunt read it',
  operator: null,
  examples: [
    'torque --system recordings/wet/floatplane-wet.yaml',
    'torque recordings/wet/work.yaml --system recordings/wet/floatplane-wet.yaml --seal',
  ],
  text: ({ verdict, id, action, by, reasons }) => headText(verdict, `${id} ${action}, by ${by}`, reasons),
  without: printRanges,
})

function printRanges(system: System, { json }: WetOptions): void {
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
