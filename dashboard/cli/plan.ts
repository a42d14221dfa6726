import type { Command } from 'commander'
import type { Plan, PlanAdvice } from '#analysis/model/plan.ts'
import { largestDriftTriedKPerH, planHold } from '#analysis/plan/plan-hold.ts'
import { duration, type FigureWords, figuresIn } from '#analysis/reasons/figures.ts'
import { whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import { figure } from '#dashboard/archive/page/figure-words.ts'
import { curingBars } from '#dashboard/wet/archive-surroundings.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { archiveAction } from './archive-action.ts'
import { resultInk as colors } from './ink.ts'
import { openSystem, type SystemOptions, withSystem } from './system-option.ts'
import { besideArchive } from './wet-action.ts'

export function register(program: Command): void {
  withSystem(program.command('plan'))
    .description('before the test: what this hold can decide, how long it takes, cautions')
    .requiredOption('--hold <id>', 'hold of the system file')
    .option('--data <folder>', 'folder of the archive, for sealants that still cure')
    .option('--json', 'print the plan as one JSON object')
    .addHelpText(
      'after',
      '\nExample:\n  $ stillhold plan --system recordings/floatplane.yaml --hold feed-lines-10psi',
    )
    .action((options: SystemOptions & { hold: string; data?: string; json?: boolean }) =>
      archiveAction(() => {
        const { file, system, units } = openSystem(options)
        const inUnits = units(system.holds.find(({ id }) => id === options.hold)?.sections)
        const planned = planHold(system, options.hold, { units: inUnits })
        if (planned === null) {
          const known = system.holds.map(({ id }) => id).join(', ') || 'none'
          throw new UnreadableFile(file, null, `has no hold "${options.hold}"; its holds: ${known}`)
        }
        const spec = system.holds.find(({ id }) => id === planned.hold)
        const curing = besideArchive(
          { folder: options.data, version: program.version() ?? '' },
          (archive) => curingBars(archive, spec?.sections ?? [], BigInt(Date.now()) * 1_000_000n),
          null,
        )
        const plan =
          curing === null
            ? planned
            : {
                ...planned,
                cautions: [{ topic: 'sealant-curing', message: curing, source: null }, ...planned.cautions],
              }
        const words = figuresIn(inUnits)
        const refused = spec && whyNotPlanned(spec, system, words.pressure)
        if (refused) throw new UnreadableFile(file, null, refused)
        process.stdout.write(
          options.json
            ? `${JSON.stringify(plan)}
`
            : planText(plan, words),
        )
      }),
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
    `  smallest leak    ${words.pressure(plan.smallest_drop_Pa)}${rate}, told from none four times in five`,
    `  hold needed      ${plan.needed_seconds === null ? 'no reasonable time' : duration(plan.needed_seconds)}`,
    `  settle needed    ${duration(plan.needed_settle_seconds)} (the file states ${duration(plan.settle_seconds)})`,
    `  drift tolerated  ${words.kelvins(plan.largest_drift_K_per_h)}/h${plan.largest_drift_K_per_h >= largestDriftTriedKPerH ? ' or more' : ''}`,
    `  errors           noise ${words.pressure(plan.noise_drop_Pa)}, temperature ${words.pressure(plan.temperature_drop_Pa)}, weather ${words.pressure(plan.weather_drop_Pa)}`,
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
