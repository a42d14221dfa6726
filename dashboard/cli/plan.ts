import { readFileSync } from 'node:fs'
import type { Command } from 'commander'
import type { Plan, PlanAdvice } from '#analysis/model/plan.ts'
import type { System } from '#analysis/model/system.ts'
import { largestDriftTriedKPerH, planHold } from '#analysis/plan/plan-hold.ts'
import { figure, span } from '#dashboard/archive/page/figure-words.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { resultInk as colors } from './ink.ts'

export function register(program: Command): void {
  program
    .command('plan')
    .description('before the test: what this hold can decide, how long it takes, cautions')
    .requiredOption('--system <file>', 'system file')
    .requiredOption('--hold <id>', 'hold of the system file')
    .option('--json', 'print the plan as one JSON object')
    .addHelpText(
      'after',
      '\nExample:\n  $ stillhold plan --system recordings/floatplane.yaml --hold feed-lines-10psi',
    )
    .action((options: { system: string; hold: string; json?: boolean }) => {
      try {
        const system = systemOf(options.system)
        const plan = planHold(system, options.hold)
        if (plan === null) {
          const known = system.holds.map(({ id }) => id).join(', ') || 'none'
          throw new UnreadableFile(options.system, null, `has no hold "${options.hold}"; its holds: ${known}`)
        }
        process.stdout.write(options.json ? `${JSON.stringify(plan)}\n` : planText(plan))
      } catch (cause) {
        if (!(cause instanceof UnreadableFile)) throw cause
        process.stderr.write(`stillhold: ${cause.message}\n`)
        process.exitCode = 2
      }
    })
}

function systemOf(file: string): System {
  let text: string
  try {
    text = readFileSync(file, 'utf8')
  } catch (cause) {
    const code = (cause as NodeJS.ErrnoException).code
    throw new UnreadableFile(file, null, code === 'ENOENT' ? 'no such file' : `cannot be read (${code})`)
  }
  return systemFromFile(text, file)
}

function planText(plan: Plan): string {
  const rate =
    plan.smallest_scc_per_min !== null
      ? `, ${figure(plan.smallest_scc_per_min)} scc/min`
      : plan.smallest_mL_per_min !== null
        ? `, ${figure(plan.smallest_mL_per_min)} mL/min`
        : ''
  const lines = [
    `${colors.bold(plan.hold)}: ${plan.message}`,
    `  allowed          ${figure(plan.allowed_drop_Pa)} Pa in ${span(plan.hold_seconds)}`,
    `  smallest leak    ${figure(plan.smallest_drop_Pa)} Pa${rate}, told from none four times in five`,
    `  hold needed      ${plan.needed_seconds === null ? 'no reasonable time' : span(plan.needed_seconds)}`,
    `  settle needed    ${span(plan.needed_settle_seconds)} (the file states ${span(plan.settle_seconds)})`,
    `  drift tolerated  ${figure(plan.largest_drift_K_per_h, 2)} K/h${plan.largest_drift_K_per_h >= largestDriftTriedKPerH ? ' or more' : ''}`,
    `  errors           noise ${figure(plan.noise_drop_Pa, 2)} Pa, temperature ${figure(plan.temperature_drop_Pa, 2)} Pa, weather ${figure(plan.weather_drop_Pa, 2)} Pa`,
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
