import type { Command } from 'commander'
import { type Comparison, compareHolds, type LeakChange } from '#analysis/hunt/compare.ts'
import type { Estimate, HoldResult } from '#analysis/model/hold-result.ts'
import { conditionsWords, figure } from '#dashboard/archive/page/figure-words.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { type AnalyzedRecording, analyzedRecording } from './bench-evidence.ts'
import { resultInk as colors } from './ink.ts'
import { resultText } from './result-text.ts'
import { fileAction, openSystem, type SystemOptions, withSystem } from './system-option.ts'

interface CompareOptions extends SystemOptions {
  readonly hold?: string
  readonly json?: boolean
}

export function register(program: Command): void {
  withSystem(program.command('compare'))
    .description('before and after work: did the leak change, by how much, how sure')
    .argument('<before>', 'recording of the hold before the work')
    .argument('<after>', 'recording of the hold after it; the same file where both are in one')
    .option('--hold <id>', 'only holds of this id')
    .option('--json', 'print the result as one JSON object')
    .addHelpText('after', '\nExample:\n  $ stillhold compare leak.lp retest.lp --system floatplane.yaml')
    .action((first: string, second: string, options: CompareOptions) =>
      fileAction(() => {
        const { system } = openSystem(options)
        const before = analyzedRecording(first, system, options.hold)
        const after = analyzedRecording(second, system, options.hold)
        const [then, now] = chosenHolds(before, after)
        const evidence = first === second ? before.evidence : [...before.evidence, ...after.evidence]
        const comparison = compareHolds(system, then, now, evidence)
        process.stdout.write(options.json ? `${JSON.stringify(comparison)}\n` : compareText(comparison))
      }),
    )
}

/** The last hold of the later recording, and the first of the earlier one that is of the same id, else its first. */
function chosenHolds(before: AnalyzedRecording, after: AnalyzedRecording): [HoldResult, HoldResult] {
  const now = after.results.at(-1)
  if (!now) throw new UnreadableFile(after.file, null, 'no hold found in it')
  const then = before.results.find((r) => r.hold === now.hold) ?? before.results[0]
  if (!then) throw new UnreadableFile(before.file, null, 'no hold found in it')
  if (before.file === after.file && then === before.results.at(-1))
    throw new UnreadableFile(after.file, null, `only one ${now.hold} in it, so there is nothing to compare`)
  return [then, now]
}

/** The finding first. */
function compareText(c: Comparison): string {
  const lines = [colors.bold(c.message), '']
  lines.push(`Before: ${c.before.hold}, ${c.before.verdict} (${c.before.recording})`)
  lines.push(`After:  ${c.after.hold}, ${c.after.verdict} (${c.after.recording})`)
  for (const s of c.sections) {
    const [unit, shown] = figures(s)
    lines.push('', `${s.section}, ${unit}:`)
    lines.push(`  before ${interval(shown.before)}`, `  after  ${interval(shown.after)}`)
    const sure = s.p_value < 0.001 ? 'p < 0.001' : `p = ${s.p_value.toFixed(3)}`
    lines.push(`  change ${interval(shown.change)}, ${sure}`)
    if (s.gone)
      lines.push(
        `  gone   ${(100 * s.gone.value).toFixed(0)} % (${(100 * s.gone.low).toFixed(0)} to ${(100 * s.gone.high).toFixed(0)} %)`,
      )
  }
  if (c.left.length > 0) {
    lines.push('', 'What is left may be at:')
    for (const f of c.left)
      lines.push(
        `  ${f.id.padEnd(6)} ${`${Math.round(100 * f.leaking)} %`.padStart(5)}  ${f.section}${f.name ? `, ${f.name}` : ''}`,
      )
  }
  for (const caution of c.cautions) lines.push(`Note: ${caution}`)
  return resultText(lines)
}

type Figures = Pick<LeakChange, 'before' | 'after' | 'change'>

function figures(s: LeakChange): [string, Figures] {
  if (s.scc_per_min) return [`scc/min at ${conditionsWords(s.scc_per_min.reference)}`, s.scc_per_min]
  return [s.unit === 'mol_per_s' ? 'mol/s' : 'mL/min', s]
}

function interval({ value, low, high }: Estimate): string {
  return `${figure(value)} (${figure(low)} to ${figure(high)})`
}
