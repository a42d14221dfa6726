import { type HistoryHold, history } from '#analysis/hunt/history.ts'
import type { Estimate } from '#analysis/model/hold-result.ts'
import { figure } from '#dashboard/archive/page/figure-words.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { readArchive } from './archive-action.ts'
import { type CommandDescription, dataOption } from './command.ts'
import { resultInk as colors } from './ink.ts'
import { resultText } from './result-text.ts'
import { type SystemOptions, systemOptions } from './system-option.ts'

interface HistoryOptions extends SystemOptions {
  readonly data?: string
  readonly json?: boolean
  readonly csv?: boolean
}

export const command: CommandDescription = {
  arguments: [['[section]', 'section of the system file (default: each)']],
  options: [
    ...systemOptions,
    dataOption,
    ['--csv', 'print the table as CSV, SI units in its head'],
    ['--json', 'print one JSON object a hold'],
  ],
  examples: ['history feed-lines --data ./archive'],
  run: (section: string | undefined, options: HistoryOptions) => {
    const { file, system, evidence } = readArchive(options)
    if (section !== undefined && !system.sections.some(({ id }) => id === section)) {
      const known = system.sections.map(({ id }) => id).join(', ')
      throw new UnreadableFile(file, null, `has no section "${section}"; its sections: ${known}`)
    }
    const holds = history(system, evidence, section)
    if (options.json) for (const hold of holds) process.stdout.write(`${JSON.stringify(hold)}\n`)
    else process.stdout.write(options.csv ? csvText(holds) : historyText(holds))
  },
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
      ? `${interval(leak.scc_per_min)} scc/min`
      : leak?.mL_per_min
        ? `${interval(leak.mL_per_min)} mL/min`
        : 'no leak computed'
    const told = change && words[change.changed] ? `  (${words[change.changed]})` : ''
    lines.push(`  ${day(time_ns)}  ${verdict.padEnd(9)} ${shown}${told}  ${record ?? hold}`)
  }
  return resultText(lines)
}

const columns = [
  'section',
  'time',
  'record',
  'hold',
  'verdict',
  'leak_mol_per_s',
  'leak_low_mol_per_s',
  'leak_high_mol_per_s',
  'leak_mL_per_min',
  'allowance_mol_per_s',
  'work_before',
  'changed',
  'p_value',
]

function csvText(holds: readonly HistoryHold[]): string {
  const rows = holds.map((h) => [
    h.section,
    iso(h.time_ns),
    h.record,
    h.hold,
    h.verdict,
    h.leak?.mol_per_s?.value,
    h.leak?.mol_per_s?.low,
    h.leak?.mol_per_s?.high,
    h.leak?.mL_per_min?.value,
    h.allowance.mol_per_s,
    h.work.map(({ action, on }) => `${action} ${on}`).join('; '),
    h.change?.changed,
    h.change?.p_value,
  ])
  return [columns, ...rows]
    .map((row) => `${row.map((cell) => quoted(String(cell ?? ''))).join(',')}\r\n`)
    .join('')
}

function quoted(cell: string): string {
  return /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell
}

function interval({ value, low, high }: Estimate): string {
  return `${figure(value)} (${figure(low)} to ${figure(high)})`
}

function iso(ns: string): string {
  return new Date(Number(BigInt(ns) / 1_000_000n)).toISOString()
}

function day(ns: string): string {
  return iso(ns).slice(0, 16).replace('T', ' ')
}
