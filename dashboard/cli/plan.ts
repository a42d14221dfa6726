import { existsSync } from 'node:fs'
import { largestDriftTriedKPerH, type Plan, planHold } from '#analysis/plan/plan-hold.ts'
import { budgetWords } from '#analysis/reasons/bench-words.ts'
import { duration, type FigureWords, figuresIn } from '#analysis/reasons/figures.ts'
import { type PlanAdvice, whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import { figure } from '#dashboard/archive/page/figure-words.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { defineCommand, jsonOption, printResult } from './command.ts'
import { dataFolder, holdOf, openSystem, systemOptions } from './options.ts'
import { resultInk as colors } from './terminal.ts'

export const command = defineCommand({
  options: [
    ...systemOptions,
    ['--hold <id>', 'hold of the system file', { required: true }],
    ['--data <folder>', 'folder of the archive, for sealants that still cure'],
    jsonOption,
  ],
  examples: ['plan --system recordings/floatplane.yaml --hold feed-lines-10psi'],
  run: async (options) => {
    const opened = openSystem(options)
    const spec = holdOf(opened, options.hold)
    const { file, system, units } = opened
    const inUnits = units(spec.sections)
    const words = figuresIn(inUnits)
    const refused = whyNotPlanned(spec, system, words.pressure)
    if (refused) throw new UnreadableFile(file, null, refused)
    const planned = planHold(system, options.hold, { units: inUnits })!
    const curing = await curingIn(options.data, spec.sections)
    const caution = { topic: 'sealant-curing', message: curing ?? '', source: null }
    const result = curing === null ? planned : { ...planned, cautions: [caution, ...planned.cautions] }
    printResult(options, result, () => planText(result, words))
  },
})

/** Sealants of these sections that still cure; null without an archive. */
async function curingIn(data: string | undefined, sections: readonly string[]): Promise<string | null> {
  if (!existsSync(dataFolder(data))) return null
  const { besideArchive } = await import('./archive-action.ts')
  const { curingBars } = await import('#dashboard/wet/work-archive.ts')
  return besideArchive(
    data,
    (archive) => curingBars(archive, sections, BigInt(Date.now()) * 1_000_000n),
    null,
  )
}

function planText(plan: Plan, words: FigureWords): string {
  const rate =
    plan.smallest_scc_per_min !== null
      ? `, ${figure(plan.smallest_scc_per_min)} scc/min`
      : plan.smallest_mL_per_min !== null
        ? `, ${figure(plan.smallest_mL_per_min)} mL/min`
        : ''
  const lines = [
    `${colors.bold(plan.hold)}: ${plan.message}`,
    `  allowed          ${words.pressure(plan.allowed_drop_Pa)} in ${duration(plan.hold_seconds)}`,
    `  smallest leak    ${words.pressure(plan.smallest_drop_Pa)}${rate}, detected four times in five`,
    `  hold needed      ${plan.needed_seconds === null ? 'no reasonable time' : duration(plan.needed_seconds)}`,
    `  settle needed    ${duration(plan.needed_settle_seconds)} (the file states ${duration(plan.settle_seconds)})`,
    `  drift tolerated  ${words.kelvins(plan.largest_drift_K_per_h)}/h${plan.largest_drift_K_per_h >= largestDriftTriedKPerH ? ' or more' : ''}`,
    ...budgetWords(plan.budget, 17).map((line) => `  ${line}`),
    '',
    'Published waits:',
    ...plan.waits.map(adviceLine),
    '',
    'Cautions:',
    ...plan.cautions.map(adviceLine),
  ]
  return `${lines.join('\n')}\n`
}

function adviceLine({ message, source }: PlanAdvice): string {
  return `  ${message}${source === null ? '' : ` (${source})`}`
}
