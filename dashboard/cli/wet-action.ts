import { readFileSync } from 'node:fs'
import { basename, dirname, resolve } from 'node:path'
import { parse } from 'yaml'
import {
  type JudgedWork,
  judgeWork,
  type WorkKind,
  type WorkResults,
} from '#analysis/fuel-work/judge-work.ts'
import { SheetError } from '#analysis/fuel-work/sheet-entries.ts'
import {
  type Verdict,
  verdictExitCode,
  verdictsWorstFirst,
  type WordedReason,
} from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { archiveSurroundings, type KeptRecording, sealWetWork } from '#dashboard/wet/work-archive.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { withArchive } from './archive-action.ts'
import { type CommandDescription, dataOption, printResult, requiredOption } from './command.ts'
import { type OpenedSystem, openSystem } from './system-option.ts'

export interface WetOptions {
  readonly system: string
  readonly data?: string
  readonly seal?: boolean
  readonly operator?: string
  readonly witness?: string
  readonly json?: boolean
}

/** A command that judges a sheet of the fuel work: prints the results, seals them on request, exits like `analyze`. */
interface WetCommand<K extends WorkKind> extends Pick<CommandDescription, 'options' | 'examples'> {
  readonly kind: K
  readonly argument: readonly [name: string, about: string]
  /** Describes sealing and the operator's role; null where the sheet names its people. */
  readonly seals?: string
  readonly operator: string | null
  /** Reads what was given; absent: one sheet file. */
  readonly read?: (given: never, options: never, system: System) => SheetAtHand
  /** The result for people. */
  readonly text: (result: WorkResults[K]) => string
  /** Prints what the system file alone says, when no sheet is given. */
  readonly without?: (system: System, options: WetOptions) => void
}

/** A sheet with the files that it names. */
interface SheetAtHand {
  readonly sheet: unknown
  readonly recording: (name: string) => Recording
  /** Sealed with it. */
  readonly files?: Pick<Parameters<typeof sealWetWork>[4], 'photos' | 'recordings'>
}

export function wetCommand<K extends WorkKind>(described: WetCommand<K>): CommandDescription {
  const { kind, argument, seals, operator, options = [], examples, text, without } = described
  const read = (described.read ?? sheetFile) as (given: unknown, ...more: unknown[]) => SheetAtHand
  return {
    arguments: [argument],
    options: [
      requiredOption('--system <file>', 'system file of the aircraft'),
      ['--seal', seals ?? 'seal the result into the archive'],
      dataOption,
      ...(operator === null ? [] : [['--operator <name>', operator] as const]),
      ['--witness <name>', 'who watched'],
      ['--json', 'print results as JSON, one object a line'],
      ...options,
    ],
    examples,
    run(given: unknown, asked: WetOptions) {
      const opened = openSystem({ system: asked.system })
      if (given === undefined) return without?.(opened.system, asked)
      const { sheet, recording, files } = read(given, asked, opened.system)
      const judged = judgeSheet(kind, sheet, opened.system, recording, asked.data)
      for (const { result } of judged) printResult(asked, result, () => text(result))
      if (asked.seal) sealWork(kind, judged, opened, asked, files)
      exitWith(judged.map(({ result }) => result.verdict))
    },
  }
}

function sheetFile(file: string, _: WetOptions, system: System): SheetAtHand {
  const { recording, kept } = recordingsBeside(dirname(file), system)
  return { sheet: readSheetFile(file), recording, files: { recordings: kept } }
}

/** @throws SheetError when the file is missing or not YAML */
export function readSheetFile(file: string): unknown {
  try {
    return parse(readFileSync(file, 'utf8'))
  } catch (cause) {
    const missing = (cause as NodeJS.ErrnoException).code === 'ENOENT'
    throw new SheetError(`${file}: ${missing ? 'no such file' : (cause as Error).message.split('\n')[0]}`)
  }
}

/** Reads a recording or a photo that a sheet names. @throws SheetError */
export function readNamedFile(file: string): { readonly name: string; readonly bytes: Uint8Array } {
  try {
    return { name: basename(file), bytes: readFileSync(file) }
  } catch {
    throw new SheetError(`${file}: cannot be read`)
  }
}

/** Reads from the archive if it exists; without one a sheet has nothing to refer to. */
export function besideArchive<T>(folder: string | undefined, work: (archive: Archive) => T, none: T): T {
  try {
    return withArchive(folder, { readOnly: true }, work)
  } catch (cause) {
    if (cause instanceof ArchiveError && cause.code === 'no-archive') return none
    throw cause
  }
}

/** Head of every printed result: verdict, subject and reasons. */
export function headText(verdict: Verdict, about: string, reasons: readonly WordedReason[]): string {
  return [`${verdict.toUpperCase()}  ${about}`, ...reasons.map(({ message }) => `  ${message}`), ''].join(
    '\n',
  )
}

/** Columns under their titles, numbers aligned right. */
export function tableText(rows: readonly (readonly string[])[]): string {
  const widths = (rows[0] ?? []).map((_, column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)))
  return rows
    .map(
      (row) =>
        `  ${row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!))).join('  ')}\n`,
    )
    .join('')
}

/** Recordings named by a sheet, resolved from its folder, to be sealed with it. */
export function recordingsBeside(folder: string, system: System) {
  const kept: KeptRecording[] = []
  return {
    kept: kept as readonly KeptRecording[],
    recording(name: string): Recording {
      const path = resolve(folder, name)
      const file = readNamedFile(path)
      if (!kept.some((one) => one.path === path)) kept.push({ path, ...file })
      return readRecordingFile(path, system)
    },
  }
}

/** Judges a sheet with the archive that it may refer to. */
function judgeSheet<K extends WorkKind>(
  kind: K,
  sheet: unknown,
  system: System,
  recording: (name: string) => Recording,
  folder: string | undefined,
): JudgedWork<WorkResults[K]>[] {
  return judgeWork(kind, sheet, system, {
    recording,
    holdVerdict: (id) => besideArchive(folder, (open) => archiveSurroundings(open).holdVerdict(id), null),
    sealedStages: () => besideArchive(folder, (open) => archiveSurroundings(open).sealedStages(), []),
    nowNs: () => BigInt(Date.now()) * 1_000_000n,
    stampsCount: false,
  })
}

/** Seals each judged sheet, and prints its record. */
function sealWork(
  kind: WorkKind,
  judged: readonly JudgedWork[],
  { system: { name }, text }: OpenedSystem,
  options: WetOptions,
  files: SheetAtHand['files'] = {},
): void {
  const kept = { name, text }
  const ids = withArchive(options.data, {}, (archive) =>
    judged.map((one) => sealWetWork(archive, kind, one, kept, { ...people(one, options), ...files }).id),
  )
  process.stderr.write(`Signed and locked as ${ids.join(', ')}.\n`)
}

/** Sets the exit code like `analyze`: with several verdicts the worst. */
function exitWith(verdicts: readonly Verdict[]): void {
  const worst = verdictsWorstFirst.find((verdict) => verdicts.includes(verdict))
  process.exitCode = worst === undefined ? 0 : verdictExitCode[worst]
}

/** A line of the work sheet names its person; for the other sheets the command does. */
function people(
  { result }: JudgedWork,
  { operator, witness }: WetOptions,
): { operator?: string; witness?: string } {
  return { operator: 'by' in result ? result.by : operator, witness }
}
