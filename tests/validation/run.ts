import { spawn } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { leaksOverAllowance, type SectionKind, situations } from '#ingest/simulator/situations.ts'
import { missLines } from './miss-lines.ts'
import { playTrials, type TrialPlan } from './play-trials.ts'
import { naiveTable, rowsOf, targetLines, verdictTable } from './report.ts'
import type { Trial } from './score.ts'
import { validationPage } from './validation-page.ts'

const usage = `npx tsx tests/validation/run.ts [--holds N] [--situation NAME,…] [--kind line|tank] [--leak K,…]
  [--seed FIRST] [--jobs N] [--misses] [--json FILE] [--write]
--holds N    seeded holds for each situation and leak (default 20)
--jobs N     so many processes, a situation each (default 1)
--misses     list the holds whose interval misses the truth or whose verdict is wrong
--json FILE  every single trial
--write      regenerate docs/validation.md and docs/validation.json`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '20' },
    situation: { type: 'string' },
    kind: { type: 'string' },
    leak: { type: 'string' },
    seed: { type: 'string', default: '1' },
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

const trials = (await inTurns(wanted, Number(values.jobs))).flat()
if (values.json) writeFileSync(values.json, `${JSON.stringify(trials, null, 1)}\n`)
if (!process.send) {
  const rows = rowsOf(trials)
  console.log(verdictTable(rows, true))
  console.log(`\n${naiveTable(rows)}\n`)
  console.log(targetLines(rows).join('\n'))
  if (values.misses) console.log(`\n${missLines(trials).join('\n')}`)
  if (values.write) {
    const page = validationPage(rows, plan)
    writeFileSync(new URL('../../docs/validation.md', import.meta.url), page.markdown)
    writeFileSync(new URL('../../docs/validation.json', import.meta.url), page.json)
  }
}

/** The trials of each situation, in the order given, `jobs` situations at a time. */
async function inTurns(names: readonly string[], jobs: number): Promise<Trial[][]> {
  const results: Trial[][] = names.map(() => [])
  let next = 0
  const worker = async () => {
    while (next < names.length) {
      const index = next++
      const startedMs = performance.now()
      results[index] = jobs > 1 ? await inChild(names[index]) : here(names[index])
      if (!process.send) {
        console.error(`${names[index]}: ${((performance.now() - startedMs) / 1000).toFixed(1)} s`)
      }
    }
  }
  await Promise.all(Array.from({ length: Math.max(1, jobs) }, worker))
  return results
}

function here(name: string): Trial[] {
  return situations
    .filter((situation) => situation.name === name)
    .flatMap((situation) => playTrials(situation, plan))
}

/** The same command for one situation in a process of its own. */
async function inChild(name: string): Promise<Trial[]> {
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
