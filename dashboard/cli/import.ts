import { readFileSync, statSync } from 'node:fs'
import { basename } from 'node:path'
import { readOwnTime } from '#ingest/intake/dialects/own-time.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { type ImportedTable, importTable } from '#ingest/spreadsheet/import-table.ts'
import type { DateOrder } from '#ingest/spreadsheet/local-date.ts'
import { defineCommand, jsonOption, many, type OptionsOf, printResult } from './command.ts'
import { holdOf, openSystem, readable, refuseExisting, systemOption, writeOut } from './options.ts'
import { printable, tableText } from './terminal.ts'

const options = [
  systemOption,
  ['--out <file>', 'recording to write; - is standard output', { required: true }],
  ['--hold <id>', 'hold of the file: only its channels are looked for, and its stages are marked'],
  [
    '--column <title=channel>',
    'channel of a column, when its title does not name it; may be given again',
    many,
  ],
  ['--zone <zone>', 'zone of local times, such as Europe/Oslo or +01:00 (default: that of this computer)'],
  [
    '--dates <order>',
    'what dates such as 05/01/2026 begin with',
    { choices: ['day-first', 'month-first'] satisfies DateOrder[] },
  ],
  ['--start <time>', 'time of the first row, with its zone, where the file has no date'],
  ['--typed', 'the readings were read by eye and typed'],
  ['--force', 'overwrite the recording if it exists'],
  jsonOption,
] as const

export const command = defineCommand({
  arguments: [['<file>', 'CSV, TSV or semicolon file, also packed (.gz); - is standard input']],
  options,
  help: `Before the import, standard error shows how the file is read. A column belongs to the channel whose id or
field its title names, else to the only channel of its kind. A column "stage" marks pump-up, settle, hold, vent.`,
  examples: [
    'import left.csv --system aircraft.yaml --out left.lp',
    'import gauge.csv --system aircraft.yaml --hold left-feed-10psi --typed --out gauge.lp',
  ],
  run: (given, file: string) => {
    const { out } = given
    refuseExisting(out, given.force)
    const imported = importFile(file, given)
    process.stderr.write(printedTable(file === '-' ? 'standard input' : file, imported))
    writeOut(out, imported.recording)
    const { points, marks, rejected } = imported
    if (given.json || out !== '-')
      printResult(
        given,
        { stillhold: 1, recording: out, points, marks, rejected },
        () => `${out}: ${points} points, ${marks} marks, ${rejected} rejected\n`,
      )
  },
})

function importFile(file: string, given: OptionsOf<typeof options>): ImportedTable {
  const opened = openSystem(given)
  if (given.hold !== undefined) holdOf(opened, given.hold)
  const name = file === '-' ? 'standard input' : basename(file)
  const bytes = readable(name, () => readFileSync(file === '-' ? 0 : file))
  const zone = given.zone ?? Intl.DateTimeFormat().resolvedOptions().timeZone
  return importTable(bytes, file === '-' ? name : file, opened.system, {
    ...startOf(given.start, file),
    zone: checkedZone(zone),
    dates: given.dates ?? null,
    hold: given.hold ?? null,
    columns: new Map(given.column?.map(readColumn)),
    origin: given.typed === true ? 'typed' : 'import',
    name,
  })
}

/** Without a date in the file, the time of its last change. */
function startOf(given: string | undefined, file: string): { startNs: bigint; startFrom: string } {
  if (given === undefined) {
    const ms = file === '-' ? Date.now() : statSync(file).mtimeMs
    const startFrom = file === '-' ? 'the time now' : 'the time of the file’s last change'
    return { startNs: BigInt(Math.floor(ms / 1000)) * 1_000_000_000n, startFrom }
  }
  const startNs = readOwnTime(given)
  if (startNs !== null) return { startNs, startFrom: 'as --start says' }
  throw new UnreadableFile(
    '--start',
    null,
    `"${given}" is no time with its zone; write it like 2026-01-05T09:30:00+01:00`,
  )
}

function checkedZone(zone: string): string {
  if (/^(?:UTC|GMT|Z)?[+-]\d{1,2}(:?\d{2})?$/i.test(zone)) return zone
  try {
    new Intl.DateTimeFormat('en-US', { timeZone: zone })
    return zone
  } catch {
    throw new UnreadableFile(
      '--zone',
      null,
      `"${zone}" is no known zone; write it like Europe/Oslo or +01:00`,
    )
  }
}

function readColumn(given: string): [title: string, channel: string] {
  const at = given.lastIndexOf('=')
  if (at > 0 && at < given.length - 1) return [given.slice(0, at), given.slice(at + 1)]
  throw new UnreadableFile(
    '--column',
    null,
    `"${given}" is not understood; write it like --column "Pressure=p-left"`,
  )
}

function printedTable(file: string, { about, columns, rejected, firstNs, lastNs }: ImportedTable): string {
  const rows = [['column', 'first value', 'is'], ...columns.map((one) => [one.title, one.example, one.means])]
  const iso = (ns: bigint) => new Date(Number(ns / 1_000_000n)).toISOString().replace('.000Z', 'Z')
  const seconds = Number((lastNs - firstNs) / 1_000_000n) / 1000
  return [
    `${printable(file)}: ${printable(about)}`,
    tableText(
      rows.map((row) => row.map(printable)),
      true,
    ).trimEnd(),
    `from ${iso(firstNs)} to ${iso(lastNs)}, ${seconds} s${rejected > 0 ? `; ${rejected} rows rejected and kept as comments` : ''}`,
    '',
  ].join('\n')
}
