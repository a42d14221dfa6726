import { type HuntFitting, type HuntResult, hunt } from '#analysis/hunt/hunt.ts'
import { type FigureWords, figuresIn, percentOf } from '#analysis/reasons/figures.ts'
import { conditionsWords, utcMinute } from '#dashboard/archive/page/figure-words.ts'
import { readArchive } from './archive-action.ts'
import { defineCommand, jsonOption, printResult } from './command.ts'
import {
  analyzedRecording,
  type NamedRecording,
  openRecordings,
  type RecordingOptions,
  recordingOptions,
} from './named-recordings.ts'
import { resultInk as colors, resultText } from './terminal.ts'

export const command = defineCommand({
  arguments: [
    ['[rec...]', 'recordings or numbers of records, in any order; none: all records of the archive'],
  ],
  options: [...recordingOptions, jsonOption],
  examples: ['hunt', 'hunt monday.lp tuesday.lp --system floatplane.yaml', 'hunt 3 5 6'],
  run: async (options, named: string[]) => {
    const taken_at = new Date().toISOString()
    const ofArchive = named.length === 0
    const { system, units, evidence } = ofArchive ? readArchive(options) : await evidenceOf(named, options)
    const found = hunt(system, evidence, { units: units() })
    const result = ofArchive ? { ...found, taken_at } : found
    printResult(options, result, () => huntText(result, figuresIn(units())))
  },
})

async function evidenceOf(named: readonly string[], options: RecordingOptions) {
  const { recordings, opened } = await openRecordings(named, options)
  const of = (one: NamedRecording) => analyzedRecording(one, opened.system, options.hold).evidence
  return { ...opened, evidence: recordings.flatMap(of) }
}

const shownFittings = 8

/** The finding, then the suspects, then the next step. */
function huntText(result: HuntResult, figures: FigureWords): string {
  const lines = [colors.bold(result.message)]
  const likely = result.fittings.filter((f) => f.held && f.leaking >= 0.01).slice(0, shownFittings)
  const [first] = likely
  if (first !== undefined) {
    lines.push(
      '',
      'Fittings, likeliest first, and how much each would leak if it does,',
      `in scc/min (${conditionsWords(result.scc_reference)}) at ${figures.pressure(result.reference_Pa)}:`,
    )
    for (const f of likely) lines.push(`  ${fittingLine(f)}`)
    const never = result.fittings.filter((f) => !f.held).length
    const rest = result.fittings.length - never - likely.length
    if (rest > 0) lines.push(`  and ${rest} less likely`)
    if (never > 0) lines.push(`  ${never} others were not tested yet`)
    if (first.leaking >= 0.5) lines.push('', `${first.id}: ${first.advice}`)
  }
  for (const v of result.valves.filter((x) => x.passing >= 0.05))
    lines.push('', `Valve ${v.id}${v.name ? ` (${v.name})` : ''} may pass: ${percentOf(v.passing)}`)
  for (const e of result.elsewhere.filter((x) => x.leaking >= 0.05))
    lines.push(
      '',
      `${e.section} may leak elsewhere than at a fitting (seam, wall, hose): ${percentOf(e.leaking)}`,
    )
  if (result.next.length > 0) {
    lines.push('', 'Next, in the order that finds the leak soonest:')
    result.next.forEach((step, i) => {
      lines.push(`  ${i + 1}. ${step.title}`)
      lines.push(`     ${Math.round(step.minutes)} min. ${step.why}`)
    })
  }
  const beyond =
    result.beyond >= 0.0005
      ? `; more than ${result.largest_set} leaks at once: ${percentOf(result.beyond)}`
      : ''
  lines.push(
    '',
    colors.dim(
      `From ${result.taken_at ? `all the evidence in the archive, taken ${utcMinute(result.taken_at)}: ` : ''}${result.used.length} piece${result.used.length === 1 ? '' : 's'} of evidence (holds, looks, work); ${result.sets} sets of up to ${result.largest_set} leaks at once counted${beyond}.`,
    ),
  )
  if (result.priors_source) lines.push(`How often each kind leaks: ${result.priors_source}.`)
  for (const { what, why } of result.ignored) lines.push(`Not used: ${what}: ${why}`)
  for (const caution of result.cautions) lines.push(`Note: ${caution}`)
  return resultText(lines)
}

function fittingLine(f: HuntFitting): string {
  const width = 20
  const bar = '█'.repeat(Math.round(f.leaking * width)).padEnd(width, '·')
  const rate = f.scc_per_min
    ? `${digits(f.scc_per_min.value)} (${digits(f.scc_per_min.low)} to ${digits(f.scc_per_min.high)})`
    : ''
  const sure = percentOf(f.leaking).padStart(6)
  return `${f.id.padEnd(6)} ${bar} ${sure}  ${rate.padEnd(18)}  ${f.section}${f.name ? `, ${f.name}` : ''}`
}

function digits(value: number): string {
  return value >= 100 ? value.toFixed(0) : value.toPrecision(2)
}
