import { type GaugeDrift, gaugeDrifts } from '#analysis/hunt/gauge-drift.ts'
import { type HistoryHold, history } from '#analysis/hunt/history.ts'
import { isoTime } from '#analysis/model/samples.ts'
import { toUnit } from '#analysis/physics/units.ts'
import type { DisplayUnits } from '#analysis/reasons/figures.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { figure, intervalWords } from '#dashboard/archive/page/figure-words.ts'
import { csvField } from '#dashboard/archive/samples-csv.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { readArchive } from './archive-action.ts'
import { dataOption, defineCommand, jsonOption } from './command.ts'
import { systemOptions } from './options.ts'
import { resultInk as colors, resultText } from './terminal.ts'

export const command = defineCommand({
  arguments: [['[section]', 'section of the system file (default: each)']],
  options: [
    ...systemOptions,
    dataOption,
    ['--gauges', 'print how the zero of each gauge moves over months instead'],
    ['--csv', 'print the table as CSV, SI units in its head'],
    jsonOption,
  ],
  examples: ['history feed-lines --data ./archive'],
  run: (options, section: string | undefined) => {
    const { file, system, evidence, known, units } = readArchive(options)
    if (section !== undefined && !system.sections.some(({ id }) => id === section)) {
      const all = system.sections.map(({ id }) => id).join(', ')
      throw new UnreadableFile(file, null, `has no section "${section}"; its sections: ${all}`)
    }
    const gauges = options.gauges ? gaugeDrifts(new ArchiveEvidence().zeros(known)) : null
    const holds = gauges ? [] : history(system, evidence, section)
    process.stdout.write(
      options.json
        ? (gauges ?? holds).map((one) => `${JSON.stringify(one)}\n`).join('')
        : gauges
          ? gaugesText(gauges, units())
          : options.csv
            ? csvText(holds)
            : historyText(holds),
    )
  },
})

/** `p-left  7 holds, 14 zeros: drifts by 12 Pa (4 to 20) a year`. */
function gaugesText(gauges: readonly GaugeDrift[], { pressure }: DisplayUnits): string {
  const shown = (pa: number): string =>
    figure(toUnit(pa, pressure, 'pressure') - toUnit(0, pressure, 'pressure'))
  const lines = gauges.map(({ gauge, zeros, drift_Pa_per_year: drift, drifts }) => {
    const newest = shown(zeros.at(-1)!.after_Pa ?? zeros.at(-1)!.before_Pa)
    const remark =
      drift === null
        ? 'too few holds, or too close together, to show a drift'
        : `${drifts ? 'drifts by' : 'no drift shows:'} ${shown(drift.value)} (${shown(drift.low)} to ${shown(drift.high)}) ${pressure} a year`
    return `  ${gauge.padEnd(12)} ${zeros.length} holds, newest zero ${newest} ${pressure}; ${remark}`
  })
  return lines.length === 0 ? 'No hold in the archive shows the zero of a gauge.\n' : resultText(lines)
}

const words = { less: 'fell', more: 'grew', 'not-shown': '' } as const

function historyText(holds: readonly HistoryHold[]): string {
  if (holds.length === 0) return 'No hold of it is in the archive.\n'
  const lines: string[] = []
  let last = ''
  for (const { section, time_ns, record, hold, verdict, leak, work, change } of holds) {
    if (section !== last) lines.push(...(last ? [''] : []), colors.bold(section))
    last = section
    for (const { time_ns: at, on, action } of work) lines.push(`  ${day(at)}  work: ${action} ${on}`)
    const shown = leak?.scc_per_min
      ? `${intervalWords(leak.scc_per_min)} scc/min`
      : leak?.mL_per_min
        ? `${intervalWords(leak.mL_per_min)} mL/min`
        : 'no leak computed'
    const remark = change && words[change.changed] ? `  (${words[change.changed]})` : ''
    lines.push(`  ${day(time_ns)}  ${verdict.padEnd(9)} ${shown}${remark}  ${record ?? hold}`)
  }
  return resultText(lines)
}

const columns: readonly (readonly [title: string, cell: (hold: HistoryHold) => unknown])[] = [
  ['section', ({ section }) => section],
  ['time', ({ time_ns }) => isoTime(time_ns)],
  ['record', ({ record }) => record],
  ['hold', ({ hold }) => hold],
  ['verdict', ({ verdict }) => verdict],
  ['leak_mol_per_s', ({ leak }) => leak?.mol_per_s?.value],
  ['leak_low_mol_per_s', ({ leak }) => leak?.mol_per_s?.low],
  ['leak_high_mol_per_s', ({ leak }) => leak?.mol_per_s?.high],
  ['leak_mL_per_min', ({ leak }) => leak?.mL_per_min?.value],
  ['allowance_mol_per_s', ({ allowance }) => allowance.mol_per_s],
  ['work_before', ({ work }) => work.map(({ action, on }) => `${action} ${on}`).join('; ')],
  ['changed', ({ change }) => change?.changed],
  ['p_value', ({ change }) => change?.p_value],
]

function csvText(holds: readonly HistoryHold[]): string {
  const rows = holds.map((hold) => columns.map(([, cell]) => cell(hold)))
  return [columns.map(([title]) => title), ...rows]
    .map((row) => `${row.map((cell) => csvField(String(cell ?? ''))).join(',')}\r\n`)
    .join('')
}

function day(ns: string): string {
  return isoTime(ns).slice(0, 16).replace('T', ' ')
}
