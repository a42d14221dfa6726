import { type Comparison, compareHolds, type LeakChange } from '#analysis/hunt/compare.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { percentOf } from '#analysis/reasons/figures.ts'
import { conditionsWords, intervalWords } from '#dashboard/archive/page/figure-words.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { defineCommand, jsonOption, printResult } from './command.ts'
import {
  type AnalyzedRecording,
  analyzedRecording,
  openRecordings,
  recordingOptions,
} from './named-recordings.ts'
import { resultInk as colors, resultText } from './terminal.ts'

export const command = defineCommand({
  arguments: [
    ['<before>', 'recording or record of the hold before the work'],
    ['<after>', 'recording of the hold after it; the same file where both are in one'],
  ],
  options: [...recordingOptions, jsonOption],
  examples: ['compare leak.lp retest.lp --system floatplane.yaml', 'compare 3 5'],
  run: async (options, first: string, second: string) => {
    const { recordings, opened } = await openRecordings([first, second], options)
    const { system } = opened
    const [one, other, ...more] = recordings
    if (one === undefined || other === undefined || more.length > 0)
      throw new UnreadableFile(`${first} ${second}`, null, 'compare takes two recordings')
    const before = analyzedRecording(one, system, options.hold)
    const after = analyzedRecording(other, system, options.hold)
    const [then, now] = chosenHolds(before, after)
    const evidence = first === second ? before.evidence : [...before.evidence, ...after.evidence]
    const comparison = compareHolds(system, then, now, evidence)
    printResult(options, comparison, () => compareText(comparison))
  },
})

/** The last hold of the later recording, and the first hold of the earlier one with the same id, else its first. */
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
    lines.push(`  before ${intervalWords(shown.before)}`, `  after  ${intervalWords(shown.after)}`)
    const sure = s.p_value < 0.001 ? 'p < 0.001' : `p = ${s.p_value.toFixed(3)}`
    lines.push(`  change ${intervalWords(shown.change)}, ${sure}`)
    if (s.gone)
      lines.push(
        `  gone   ${(100 * s.gone.value).toFixed(0)} % (${(100 * s.gone.low).toFixed(0)} to ${(100 * s.gone.high).toFixed(0)} %)`,
      )
  }
  if (c.left.length > 0) {
    lines.push('', 'What is left may be at:')
    for (const f of c.left)
      lines.push(
        `  ${f.id.padEnd(6)} ${percentOf(f.leaking).padStart(6)}  ${f.section}${f.name ? `, ${f.name}` : ''}`,
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
