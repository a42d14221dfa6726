import { spawn } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { leaksOverAllowance, type SectionKind, situations } from '#tests/simulator/situations.ts'
import { missLines } from './miss-lines.ts'
import { playTrials, seedAfter, type TrialPlan } from './play-trials.ts'
import { atAllowanceTable, naiveTable, reportOf, targetLines, verdictTable } from './report.ts'
import type { Trial } from './score.ts'
import { validationPage } from './validation-page.ts'

const usage = `npx tsx tests/validation/run.ts [--holds N] [--situation NAME,…] [--kind line|tank] [--leak K,…]
  [--seed FIRST] [--at-allowance N] [--jobs N] [--misses] [--json FILE] [--write]
--holds N         seeded holds for each situation and leak (default 20)
--at-allowance N  for each situation so many more that leak exactly the allowance (default 0): where a verdict is
                  hardest, and a single pass among few would say nothing
--jobs N          so many processes, a situation each (default 1)
--misses          list the holds whose interval misses the truth or whose verdict is wrong
--json FILE       every single trial
--write           regenerate docs/validation.md and docs/validation.json`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '20' },
    situation: { type: 'string' },
    kind: { type: 'string' },
    leak: { type: 'string' },
    seed: { type: 'string', default: '1' },
    'at-allowance': { type: 'string', default: '0' },
    jobs: { type: 'string', default: '1' },
    misses: { type: 'boolean', default: false },
    json: { type: 'string' },
    write: { type: 'boolean', default: false },
    help: { type: 'boolean', default: false },
  },
})
if (values.help) {
  console.log(usage)
  process.exit(0)
}

const wanted = values.situation?.split(',') ?? situations.map(({ name }) => name)
const unknown = wanted.filter((name) => !situations.some((situation) => situation.name === name))
if (unknown.length > 0) {
  console.error(
    `no situation '${unknown.join(', ')}'; there are: ${situations.map(({ name }) => name).join(', ')}`,
  )
  process.exit(2)
}
const kinds: readonly SectionKind[] =
  values.kind === 'line' || values.kind === 'tank' ? [values.kind] : ['line', 'tank']
const plan: TrialPlan = {
  holds: Number(values.holds),
  firstSeed: Number(values.seed),
  leaks: values.leak?.split(',').map(Number) ?? leaksOverAllowance,
  kinds,
}

const atAllowance: TrialPlan = {
  holds: Number(values['at-allowance']),
  firstSeed: seedAfter(plan),
  leaks: [1],
  kinds,
}

const trials = await inTurns(wanted, plan)
const moreTrials = atAllowance.holds > 0 ? await inTurns(wanted, atAllowance) : []
if (values.json) writeFileSync(values.json, `${JSON.stringify([...trials, ...moreTrials], null, 1)}\n`)
if (!process.send) {
  const report = reportOf(trials, moreTrials)
  console.log(verdictTable(report.rows, true))
  console.log(`\n${naiveTable(report.rows)}\n`)
  console.log(`${atAllowanceTable(report.atAllowance)}\n`)
  console.log(targetLines(report).join('\n'))
  if (values.misses) console.log(`\n${missLines([...trials, ...moreTrials]).join('\n')}`)
  if (values.write) {
    const page = validationPage(report, plan, atAllowance)
    writeFileSync(new URL('../../docs/validation.md', import.meta.url), page.markdown)
    writeFileSync(new URL('../../docs/validation.json', import.meta.url), page.json)
  }
}

/** The trials of each situation, in the order given, `--jobs` situations at a time. */
async function inTurns(names: readonly string[], plan: TrialPlan): Promise<Trial[]> {
  const jobs = Number(values.jobs)
  const results: Trial[][] = names.map(() => [])
  let next = 0
  const worker = async () => {
    while (next < names.length) {
      const index = next++
      const startedMs = performance.now()
      results[index] = jobs > 1 ? await inChild(names[index], plan) : here(names[index], plan)
      if (!process.send) {
        console.error(`${names[index]}: ${((performance.now() - startedMs) / 1000).toFixed(1)} s`)
      }
    }
  }
  await Promise.all(Array.from({ length: Math.max(1, jobs) }, worker))
  return results.flat()
}

function here(name: string, plan: TrialPlan): Trial[] {
  return situations
    .filter((situation) => situation.name === name)
    .flatMap((situation) => playTrials(situation, plan))
}

/** The same command for one situation in a process of its own. */
async function inChild(name: string, plan: TrialPlan): Promise<Trial[]> {
  const folder = mkdtempSync(join(tmpdir(), 'validation-'))
  const file = join(folder, 'trials.json')
  const options = [
    ...['--situation', name, '--json', file, '--holds', String(plan.holds), '--seed', String(plan.firstSeed)],
    ...['--leak', plan.leaks.join(','), ...(kinds.length === 1 ? ['--kind', kinds[0]] : [])],
  ]
  const child = spawn(process.execPath, [...process.execArgv, fileURLToPath(import.meta.url), ...options], {
    stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
  })
  const code = await new Promise((resolve) => child.on('exit', resolve))
  if (code !== 0) throw new Error(`the trials of '${name}' ended with code ${code}`)
  const trials = JSON.parse(readFileSync(file, 'utf8')) as Trial[]
  rmSync(folder, { recursive: true })
  return trials
}
