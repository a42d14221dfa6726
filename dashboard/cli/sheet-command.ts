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
  type WordedReason,
  worstVerdict,
} from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { archiveSurroundings, type KeptRecording, sealWetWork } from '#dashboard/wet/work-archive.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { besideArchive, withArchive } from './archive-action.ts'
import {
  type CommandDescription,
  dataOption,
  defineCommand,
  jsonOption,
  type OptionsOf,
  printResult,
} from './command.ts'
import { type OpenedSystem, openSystem, systemOption } from './options.ts'

const options = [
  systemOption,
  ['--seal', 'seal the results into the archive'],
  dataOption,
  ['--witness <name>', 'who watched'],
  jsonOption,
] as const
type SheetOptions = OptionsOf<typeof options> & { readonly operator?: string }

/** A command that judges a sheet of the fuel work: prints the results, seals them on request, exits like `analyze`. */
interface SheetCommand<K extends WorkKind> extends Pick<CommandDescription, 'examples'> {
  readonly kind: K
  readonly argument: readonly [name: string, about: string]
  /** Options of its own; the name of the person is among them where the sheet does not name its people. */
  readonly own?: readonly (readonly [flags: string, about: string, reading?: { readonly default: string }])[]
  /** The sheet of recordings that are given in its place; null where a sheet is given. */
  readonly sheetOf?: (files: readonly string[], options: never) => object | null
  /** The result for people. */
  readonly text: (result: WorkResults[K]) => string
  /** Prints what the system file alone says, when no sheet is given. */
  readonly without?: (system: System, options: SheetOptions) => void
}

export function sheetCommand<K extends WorkKind>(described: SheetCommand<K>): CommandDescription {
  const { kind, argument, own = [], sheetOf, examples, text, without } = described
  return defineCommand({
    arguments: [argument],
    options: [...options, ...own],
    examples,
    run(given: SheetOptions, named: string | readonly string[] | undefined) {
      const opened = openSystem(given)
      if (named === undefined) return without?.(opened.system, given)
      const files = [named].flat()
      const [first = ''] = files
      const made = sheetOf?.(files, given as never) ?? null
      const sheet = made ?? readSheetFile(first)
      const folder = made ? '.' : dirname(first)
      const kept: KeptRecording[] = []
      const judged = judgeSheet(kind, sheet, opened.system, given.data, (name) => {
        const path = made ? files.find((file) => basename(file) === name)! : resolve(folder, name)
        const file = readNamedFile(path)
        if (!kept.some((one) => one.path === path)) kept.push({ path, ...file })
        return readRecordingFile(path, opened.system)
      })
      for (const { result } of judged) printResult(given, result, () => text(result))
      const { photos = [] } = sheet as { readonly photos?: readonly string[] }
      const seen = photos.map((name) => readNamedFile(resolve(folder, name)))
      if (given.seal) sealWork(kind, judged, opened, given, { recordings: kept, photos: seen })
      exitWith(judged.map(({ result }) => result.verdict))
    },
  })
}

/** @throws SheetError when the file is missing or not YAML */
function readSheetFile(file: string): unknown {
  try {
    return parse(readFileSync(file, 'utf8'))
  } catch (cause) {
    const missing = (cause as NodeJS.ErrnoException).code === 'ENOENT'
    throw new SheetError(`${file}: ${missing ? 'no such file' : (cause as Error).message.split('\n')[0]}`)
  }
}

/** Reads a recording or a photo that a sheet names. @throws SheetError */
function readNamedFile(file: string): { readonly name: string; readonly bytes: Uint8Array } {
  try {
    return { name: basename(file), bytes: readFileSync(file) }
  } catch {
    throw new SheetError(`${file}: cannot be read`)
  }
}

/** Head of every printed result: verdict, subject and reasons. */
export function headText(verdict: Verdict, about: string, reasons: readonly WordedReason[]): string {
  return [`${verdict.toUpperCase()}  ${about}`, ...reasons.map(({ message }) => `  ${message}`), ''].join(
    '\n',
  )
}

/** Judges a sheet with the archive that it may refer to. */
function judgeSheet<K extends WorkKind>(
  kind: K,
  sheet: unknown,
  system: System,
  folder: string | undefined,
  recording: (name: string) => Recording,
): JudgedWork<WorkResults[K]>[] {
  return judgeWork(kind, sheet, system, {
    recording,
    holdVerdict: (id) => besideArchive(folder, (open) => archiveSurroundings(open).holdVerdict(id), null),
    sealedStages: () => besideArchive(folder, (open) => archiveSurroundings(open).sealedStages(), []),
    nowNs: () => BigInt(Date.now()) * 1_000_000n,
    stampsCount: false,
  })
}

/** Seals each judged sheet, and prints its record. A line of the work sheet names its person. */
function sealWork(
  kind: WorkKind,
  judged: readonly JudgedWork[],
  { system: { name }, text }: OpenedSystem,
  { data, operator, witness }: SheetOptions,
  files: Pick<Parameters<typeof sealWetWork>[4], 'photos' | 'recordings'>,
): void {
  const ids = withArchive(data, {}, (archive) =>
    judged.map((one) => {
      const by = { operator: 'by' in one.result ? one.result.by : operator, witness }
      return sealWetWork(archive, kind, one, { name, text }, { ...by, ...files }).id
    }),
  )
  process.stderr.write(`Signed and locked as ${ids.join(', ')}.\n`)
}

/** Sets the exit code like `analyze`: with several verdicts the worst. */
function exitWith(verdicts: readonly Verdict[]): void {
  const worst = worstVerdict(verdicts)
  process.exitCode = worst === null ? 0 : verdictExitCode[worst]
}
