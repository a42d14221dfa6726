import {
  type HoldAnalysis,
  type HoldResult,
  type Verdict,
  verdictExitCode,
  worstVerdict,
} from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import type { DisplayUnits } from '#analysis/reasons/figures.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { voidWithoutHold } from '#analysis/verdict/void-without-hold.ts'
import type { RecordingProblem } from '#ingest/recording/recording-problem.ts'
import { analysisText } from './analysis-text.ts'
import { complain, defineCommand, jsonOption, type OptionsOf } from './command.ts'
import {
  holdsIn,
  type MarksApart,
  marksApart,
  marksOf,
  type NamedRecording,
  openRecordings,
  readNamed,
  readWithMarks,
  recordingOptions,
} from './named-recordings.ts'
import { holdOf } from './options.ts'
import { ProgressBar } from './terminal.ts'

const options = [
  ...recordingOptions,
  jsonOption,
  ['--explain', 'say what makes the interval wide, and what to improve first'],
] as const
type AnalyzeOptions = OptionsOf<typeof options>

export const command = defineCommand({
  arguments: [['<rec...>', 'recordings (*.lp), or numbers of records in the archive']],
  options,
  help: `A file of marks alone is taken into the recordings that run at its time.

Exit code: 0 pass, 10 fail, 11 undecided, 12 void or no hold found; with several the worst counts
(fail, void, undecided, pass). 2: a file or an option cannot be used.`,
  examples: ['analyze recordings/lines-leak.lp --system recordings/floatplane.yaml', 'analyze 7'],
  run: async (given, named: readonly string[]) => {
    process.exitCode = await analyze(named, given)
  },
})

/** Prints the analysis; returns the exit code. */
async function analyze(named: readonly string[], options: AnalyzeOptions): Promise<number> {
  const { opened, recordings } = await openRecordings(named, options)
  if (options.hold !== undefined) holdOf(opened, options.hold)
  const { system, units } = opened
  const verdicts: Verdict[] = []
  let unusable = false
  let printed = false
  const apart = marksApart(
    recordings.map(({ path }) => path),
    system,
  )
  const taken = new Set<MarksApart>()
  // Marks apart come last: unused ones are known only after all recordings.
  const isApart = ({ path }: NamedRecording) => apart.some(({ file }) => file === path)
  const inOrder = [...recordings].sort((a, b) => Number(isApart(a)) - Number(isApart(b)))
  for (const one of inOrder) {
    try {
      if ([...taken].some(({ file }) => file === one.path)) continue
      const holds = holdsOf(one, system, options, isApart(one) ? [] : apart, taken)
      verdicts.push(...(holds.length > 0 ? holds.map(({ result }) => result.verdict) : ['void' as const]))
      if (!options.json && printed && holds.length > 0) process.stdout.write('\n')
      printed ||= holds.length > 0
      for (const [k, hold] of holds.entries()) {
        const result = inUnits(hold.result, units(hold.result.sections))
        if (options.json) process.stdout.write(`${JSON.stringify(result)}\n`)
        else
          process.stdout.write(
            `${k > 0 ? '\n' : ''}${analysisText({ ...hold, result }, system, units, process.stdout.isTTY === true)}`,
          )
      }
    } catch (cause) {
      complain(cause)
      unusable = true
    }
  }
  if (unusable) return 2
  return verdictExitCode[worstVerdict(verdicts) ?? 'void']
}

/** The result with its reasons in the requested units. */
function inUnits(result: HoldResult, units: DisplayUnits): HoldResult {
  return { ...result, reasons: result.reasons.map((one) => ({ ...one, message: phrase(one, units) })) }
}

/**
 * The holds of one recording, with the separate marks made during it; oddities of the file, and a missing
 * hold, are reported on standard error.
 */
function holdsOf(
  named: NamedRecording,
  system: System,
  { hold, json = false, explain = false }: AnalyzeOptions,
  apart: readonly MarksApart[],
  taken: Set<MarksApart>,
): HoldAnalysis[] {
  const { file, name } = named
  const bar = new ProgressBar()
  let found: HoldAnalysis[]
  try {
    const alone = readNamed(named, system, bar)
    const marks = marksOf(alone, apart)
    for (const one of marks) taken.add(one)
    const recording = marks.length === 0 ? alone : readWithMarks(named, system, marks)
    bar.next(`analyzing ${name}`)
    found = holdsIn(recording, named, system, hold, json || explain)
    bar.end()
    tellProblems(file, alone.problems)
    for (const one of marks)
      process.stderr.write(`stillhold: ${one.file}: marks without samples, taken into ${file}\n`)
  } finally {
    bar.end()
  }
  if (found.length > 0) return found
  const what = hold === undefined ? 'no hold' : `no hold ${hold}`
  process.stderr.write(
    `stillhold: ${file}: ${what} found in it: no stage marks, and no pressure that stayed near a stated test pressure; it proves nothing (void)\n`,
  )
  const spec = system.holds.find(({ id }) => id === hold)
  return spec === undefined ? [] : [voidWithoutHold(name, system, spec)]
}

/** Unplugged channels are normal; everything else is reported. */
function tellProblems(file: string, problems: readonly RecordingProblem[]): void {
  for (const { code, line, message } of problems) {
    if (code === 'no-samples') continue
    process.stderr.write(`stillhold: ${file}${line === null ? '' : `, line ${line}`}: ${message}\n`)
  }
}
