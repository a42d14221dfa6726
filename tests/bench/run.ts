import { readdirSync } from 'node:fs'
import { cpus } from 'node:os'
import { dirname } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import type { BenchPlan, Figures, Race } from './bench-plan.ts'

/**
 * `tsx tests/bench/run.ts [--quick] [word…]`: runs every plan of every `*.bench.ts` beside this file, or those whose
 * file has one of the words in its name. Prints ratios, since only these mean something on another machine: the
 * median of the rounds and, as spread, the lowest and highest. Ends with 1 when a goal is missed.
 */

const quick = process.argv.includes('--quick')
const words = process.argv.slice(2).filter((word) => !word.startsWith('--'))
const folder = dirname(fileURLToPath(import.meta.url))
const rounds = quick ? 3 : 11
let missed = 0

console.log(
  `node ${process.version}, ${cpus()[0]?.model ?? 'unknown processor'}${quick ? ', quick: not to quote' : ''}`,
)
for (const name of readdirSync(folder).sort()) {
  if (!name.endsWith('.bench.ts') || (words.length > 0 && !words.some((word) => name.includes(word))))
    continue
  const { plans } = (await import(pathToFileURL(`${folder}/${name}`).href)) as { plans: readonly BenchPlan[] }
  for (const plan of plans) {
    const work = await plan(quick)
    console.log(`\n${work.name}`)
    if (work.kind === 'race') race(work)
    else tell(work)
  }
}
if (!quick) console.log(missed === 0 ? '\nall goals met' : `\n${missed} goals missed`)
process.exitCode = missed === 0 ? 0 : 1

function race(work: Race): void {
  const runners = [work, ...work.rivals]
  // The first rounds are spent on compiling, which is not what is asked.
  for (let k = 0; k < 2; k++) for (const runner of runners) runner.run()
  const times = runners.map(() => [] as number[])
  for (let k = 0; k < rounds; k++)
    for (const [index, runner] of runners.entries()) times[index].push(time(runner))
  console.log(`  ${'ours'.padEnd(34)} ${median(times[0]).toFixed(2).padStart(9)} ms`)
  work.rivals.forEach(({ name, goal }, index) => {
    const ratios = times[index + 1].map((rival, k) => rival / times[0][k])
    const middle = median(ratios)
    const spread = `${short(Math.min(...ratios))} … ${short(Math.max(...ratios))}`
    const line = `  ${name.padEnd(34)} ${short(middle).padStart(9)} ×  (${spread})`
    console.log(goal === null ? line : `${line.padEnd(70)} goal ${short(goal)}: ${judge(middle >= goal)}`)
  })
}

function tell({ figures }: Figures): void {
  for (const { name, value, unit, atMost } of figures) {
    const line = `  ${name.padEnd(34)} ${short(value).padStart(9)} ${unit}`
    console.log(
      atMost === null ? line : `${line.padEnd(70)} goal at most ${short(atMost)}: ${judge(value <= atMost)}`,
    )
  }
}

function judge(met: boolean): string {
  if (quick) return met ? 'met here' : 'not met here'
  if (!met) missed++
  return met ? 'met' : 'MISSED'
}

function time(runner: { run(): unknown }): number {
  const began = performance.now()
  runner.run()
  return performance.now() - began
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

function short(value: number): string {
  return value >= 100 ? value.toFixed(0) : value.toPrecision(value >= 1 ? 3 : 2)
}
