import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { cpus } from 'node:os'
import { dirname } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import type { BenchPlan, Figures, Race } from './bench-plan.ts'

/**
 * `tsx tests/bench/run.ts [--quick] [--write] [word…]`: runs every plan of every `*.bench.ts` beside this file, or those
 * whose file has one of the words in its name. Prints ratios, since only these mean something on another machine: the
 * median of the rounds and, as spread, the lowest and highest. Ends with a table of all goals, and with 1 when one is missed.
 *
 * The quick form is for a machine of any load: it fails only where a ratio is twice the one kept in `quick-ratios.json`,
 * which `--quick --write` writes.
 */

const quick = process.argv.includes('--quick')
const write = process.argv.includes('--write')
const words = process.argv.slice(2).filter((word) => !word.startsWith('--'))
const folder = dirname(fileURLToPath(import.meta.url))
const keptFile = `${folder}/quick-ratios.json`
const kept: Record<string, number> = JSON.parse(readFileSync(keptFile, 'utf8'))
const rounds = quick ? 3 : 11

/** A goal and what was measured for it. */
interface Row {
  readonly work: string
  readonly shown: string
  readonly goal: string
  readonly met: boolean
}
const rows: Row[] = []
const slower: string[] = []

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

const widest = Math.max(...rows.map(({ work }) => work.length))
console.log('\nGoals')
for (const { work, shown, goal, met } of rows)
  console.log(`  ${work.padEnd(widest)}  ${shown.padStart(18)}  ${goal.padEnd(10)} ${met ? 'met' : 'MISSED'}`)
const missed = rows.filter(({ met }) => !met).length
console.log(`\n${missed} of ${rows.length} goals missed`)
for (const one of slower) console.log(`FAIL ${one}`)
if (quick && write) writeFileSync(keptFile, `${JSON.stringify(kept, Object.keys(kept).sort(), 2)}\n`)
process.exitCode = (quick ? slower : rows.filter(({ met }) => !met)).length === 0 ? 0 : 1

function race(work: Race): void {
  const runners = [work, ...work.rivals]
  // The first rounds are spent on compiling, which is not what is asked.
  for (let k = 0; k < (work.isProcess ? 1 : 2); k++) for (const runner of runners) runner.run()
  let times = timesOf(runners, work.isProcess)
  console.log(`  ${'ours'.padEnd(34)} ${median(times[0]).toFixed(2).padStart(9)} ms`)
  work.rivals.forEach(({ name, goal }, index) => {
    const key = `${work.name} / ${name}`
    let ratio = ratioOf(times, index)
    if (goal !== null && quick) {
      // A busy moment is no loss of speed: what seems slow is timed once more.
      if (isSlower(key, ratio.middle)) {
        times = timesOf(runners, work.isProcess)
        ratio = ratioOf(times, index)
      }
      if (write) kept[key] = Number((1 / ratio.middle).toPrecision(3))
      else if (isSlower(key, ratio.middle))
        slower.push(`${key}: ${short(1 / ratio.middle)} × as long, ${short(kept[key])} before`)
    }
    const spread = `${short(ratio.least)} … ${short(ratio.most)}`
    console.log(`  ${name.padEnd(34)} ${short(ratio.middle).padStart(9)} × as long as ours  (${spread})`)
    if (goal === null) return
    const met = ratio.middle >= goal
    if (goal >= 1) rows.push(row(key, `${short(ratio.middle)} × as fast`, `≥ ${short(goal)}`, met))
    else rows.push(row(key, `${short(1 / ratio.middle)} × as long`, `≤ ${short(1 / goal)}`, met))
  })
}

function timesOf(runners: readonly { run(): unknown }[], isProcess = false): number[][] {
  const times = runners.map(() => [] as number[])
  for (let k = 0; k < rounds; k++)
    for (const [index, runner] of runners.entries())
      times[index].push(isProcess ? Number(runner.run()) : time(runner))
  return times
}

/** How many times ours a rival took. */
function ratioOf(times: readonly number[][], rival: number) {
  const ratios = times[rival + 1].map((each, k) => each / times[0][k])
  return { middle: median(ratios), least: Math.min(...ratios), most: Math.max(...ratios) }
}

/** Whether ours takes twice as much of the rival's time as it did. */
function isSlower(key: string, ratio: number): boolean {
  return !write && kept[key] !== undefined && 1 / ratio > 2 * kept[key]
}

function tell({ name: work, figures }: Figures): void {
  for (const { name, value, unit, atMost } of figures) {
    console.log(`  ${name.padEnd(34)} ${short(value).padStart(9)} ${unit}`)
    if (atMost !== null)
      rows.push(row(`${work} / ${name}`, `${short(value)} ${unit}`, `≤ ${short(atMost)}`, value <= atMost))
  }
}

function row(work: string, shown: string, goal: string, met: boolean): Row {
  return { work: work.length > 100 ? `${work.slice(0, 99)}…` : work, shown, goal, met }
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
