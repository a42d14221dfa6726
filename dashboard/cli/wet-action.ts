import { readFileSync } from 'node:fs'
import { basename, resolve } from 'node:path'
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
import { type CommandDescription, dataOption, requiredOption } from './command.ts'
import { openSystem } from './system-option.ts'

export interface WetOptions {
  readonly system: string
  readonly data?: string
  readonly seal?: boolean
  readonly operator?: string
  readonly witness?: string
  readonly json?: boolean
}

/** Common options of the wet commands: the system file, sealing into the archive, and JSON output. */
interface WetCommand extends Pick<CommandDescription, 'options' | 'examples' | 'run'> {
  readonly argument: readonly [name: string, about: string]
  /** Describes sealing and the operator's role; null where the sheet names its people. */
  readonly seals?: string
  readonly operator: string | null
}

export function wetCommand({
  argument,
  seals,
  operator,
  options = [],
  ...rest
}: WetCommand): CommandDescription {
  return {
    ...rest,
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
  }
}

/** The system with its text, as stored in a record. */
export interface SystemAtHand {
  readonly system: System
  readonly text: string
  readonly name: string
}

export function systemAtHand(file: string): SystemAtHand {
  const { system, text } = openSystem({ system: file })
  return { system, text, name: system.name }
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

/** Sets the exit code like `analyze`: with several verdicts the worst. */
export function exitWith(verdicts: readonly Verdict[]): void {
  const worst = verdictsWorstFirst.find((verdict) => verdicts.includes(verdict))
  process.exitCode = worst === undefined ? 0 : verdictExitCode[worst]
}

/** Head of every printed result: verdict, subject and reasons. */
export function headText(verdict: Verdict, about: string, reasons: readonly WordedReason[]): string {
  return [`${verdict.toUpperCase()}  ${about}`, ...reasons.map(({ message }) => `  ${message}`), ''].join(
    '\n',
  )
}

/** Columns under their titles, numbers aligned right. */
export function tableText(rows: readonly (readonly string[])[]): string {
  const widths = rows[0].map((_, column) => Math.max(...rows.map((row) => row[column].length)))
  return rows
    .map(
      (row) =>
        `  ${row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]))).join('  ')}\n`,
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
export function judgeSheet<K extends WorkKind>(
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

/** Seals each judged sheet on request, and prints its record. */
export function sealIfAsked(
  kind: WorkKind,
  judged: readonly JudgedWork[],
  kept: SystemAtHand,
  options: WetOptions,
  files: Pick<Parameters<typeof sealWetWork>[4], 'photos' | 'recordings'> = {},
): void {
  if (!options.seal) return
  const ids = withArchive(options.data, {}, (archive) =>
    judged.map((one) => sealWetWork(archive, kind, one, kept, { ...people(one, options), ...files }).id),
  )
  process.stderr.write(`Signed and locked as ${ids.join(', ')}.\n`)
}

/** A line of the work sheet names its person; for the other sheets the command does. */
function people(
  { result }: JudgedWork,
  { operator, witness }: WetOptions,
): { operator?: string; witness?: string } {
  return { operator: 'by' in result ? result.by : operator, witness }
}
