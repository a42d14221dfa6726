import { parseArgs } from 'node:util'
import type { Estimate, SectionLeak, Verdict } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { type BenchFault, benchFaults, type SectionSort } from './worlds/drawn-bench.ts'
import { playBench } from './worlds/play-bench.ts'

const usage = `npx tsx tests/validation/benches.ts [--holds N] [--fault NAME,…] [--leak K,…] [--seed FIRST] [--sort line|tank]
  [--check known-leak|known-volume] [--supply-off] [--list]
Plays holds of the second world (tests/validation/worlds), N for each fault, leak and sort of section, and prints what became
of them. Even seeds are to tune on, odd ones to look at once: --seed decides (it steps by 2).`

const { values } = parseArgs({
  options: {
    holds: { type: 'string', default: '6' },
    fault: { type: 'string', default: benchFaults.join(',') },
    leak: { type: 'string', default: '0,0.4,1.2,2,4' },
    seed: { type: 'string', default: '2' },
    sort: { type: 'string', default: 'line,tank' },
    check: { type: 'string' },
    'supply-off': { type: 'boolean', default: false },
    list: { type: 'boolean', default: false },
    help: { type: 'boolean', default: false },
  },
})
if (values.help) {
  console.log(usage)
  process.exit(0)
}

interface Trial {
  readonly fault: string
  readonly seed: number
  readonly sort: SectionSort
  readonly leak: number
  readonly allowed: number
  readonly verdict: Verdict
  readonly codes: readonly string[]
  readonly drop: Estimate | null
  readonly truePa: number
}

const trials: Trial[] = []
for (const fault of values.fault.split(',') as BenchFault[]) {
  let seed = Number(values.seed)
  for (let i = 0; i < Number(values.holds); i++)
    for (const sort of values.sort.split(',') as SectionSort[])
      for (const leak of values.leak.split(',').map(Number)) {
        trials.push(trialOf(fault, seed, sort, leak))
        seed += 2
      }
  console.log(
    lineOf(
      fault,
      trials.filter((trial) => trial.fault === fault),
    ),
  )
}
console.log(
  lineOf(
    'all but none',
    trials.filter((trial) => trial.fault !== 'none'),
  ),
)
if (values.list)
  for (const t of trials) {
    const d =
      t.drop && [t.drop.low, t.drop.value, t.drop.high].map((x) => (x / t.allowed).toFixed(2)).join(' ')
    console.log(
      `${t.fault} ${t.sort} seed ${t.seed} leak ${t.leak}: ${t.verdict} [${d}] ${t.codes.join(' ')}`,
    )
  }

function trialOf(fault: BenchFault, seed: number, sort: SectionSort, leak: number): Trial {
  const check = values.check as 'known-leak' | 'known-volume' | undefined
  const played = playBench({ fault, seed, sort, leak, check, supplyOff: values['supply-off'] })
  const system = systemFromFile(played.system, 'world.yaml')
  const [{ result }] = analyzeRecording(readRecording(played.recording, system, 'world.lp'), system)
  const found = (Array.isArray(result.leak) ? result.leak[0] : result.leak) as SectionLeak | null
  return {
    fault,
    seed,
    sort,
    leak,
    allowed: played.bench.hold.allowPa,
    verdict: result.verdict,
    codes: result.reasons.map(({ code }) => code),
    drop: found?.drop_Pa ?? null,
    truePa: played.truth.dropPa,
  }
}

function lineOf(name: string, of: readonly Trial[]): string {
  const tight = of.filter(({ leak }) => leak < 1)
  const leaking = of.filter(({ leak }) => leak >= 1)
  const held = of.filter(({ verdict, drop }) => verdict !== 'void' && drop !== null)
  const count = (from: readonly Trial[], verdict: Verdict) =>
    from.filter((trial) => trial.verdict === verdict).length
  const covered = held.filter(
    ({ drop, truePa }) => drop !== null && drop.low <= truePa && truePa <= drop.high,
  )
  const halves = held
    .map(({ drop, allowed }) => ((drop?.high ?? 0) - (drop?.low ?? 0)) / 2 / allowed)
    .sort((a, b) => a - b)
  return [
    name.padEnd(20),
    `leaking ${leaking.length}: pass ${count(leaking, 'pass')} fail ${count(leaking, 'fail')} undecided ${count(leaking, 'undecided')} void ${count(leaking, 'void')}`.padEnd(
      60,
    ),
    `tight ${tight.length}: pass ${count(tight, 'pass')} fail ${count(tight, 'fail')} undecided ${count(tight, 'undecided')} void ${count(tight, 'void')}`.padEnd(
      58,
    ),
    `covered ${covered.length} of ${held.length}`,
    `half-width ${(halves[halves.length >> 1] ?? Number.NaN).toFixed(2)}`,
  ].join(' ')
}
