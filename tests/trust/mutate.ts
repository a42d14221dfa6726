import { spawn } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { wilsonInterval } from '#tests/wilson-interval.ts'
import { MutationStudy } from './mutation-study.ts'
import { RepeatedTests } from './repeated-tests.ts'

/** What is mutated unless `--source` says otherwise: how a verdict is found, and how one is checked. */
const verdictSources = [
  ...['fit', 'faults', 'signal', 'stages', 'verdict'].map((room) => `analysis/${room}`),
  ...[
    'verify',
    'check-record',
    'check-pdf',
    'compare-pdf',
    'chain-head',
    'compare-results',
    'read-record',
  ].map((name) => `dashboard/archive/${name}.ts`),
]
/** The tests that are to notice, unless `--test` says otherwise. */
const verdictTests = [
  ...['fit', 'faults', 'signal', 'stages', 'verdict'].map((room) => `tests/analysis/${room}`),
  'tests/validation/demo-verdicts.test.ts',
  'tests/dashboard/archive/verify.test.ts',
  'tests/dashboard/archive/compare-results.test.ts',
]
/** A mutant that takes longer hangs, [ms]. */
const patienceMs = 180_000

/**
 * `tsx tests/trust/mutate.ts --at FOLDER --sample 200 --minutes 5`, again and again until all are done: changes one place
 * at a time in a copy of the clone and runs the tests that reach that line, the quick ones first. The mutants are a random
 * sample of all; the last line is the score so far with its 95 % interval. `--source` and `--test`, each a file or folder
 * and given as often as needed, study another part; a part of its own takes a FOLDER of its own.
 */
const { values } = parseArgs({
  options: {
    at: { type: 'string' },
    sample: { type: 'string', default: '200' },
    seed: { type: 'string', default: '1' },
    minutes: { type: 'string', default: '5' },
    source: { type: 'string', multiple: true, default: verdictSources },
    test: { type: 'string', multiple: true, default: verdictTests },
    child: { type: 'boolean', default: false },
  },
})
if (values.at === undefined) throw new Error('--at FOLDER: where the copy and what was found so far are kept')
const study = new MutationStudy(fileURLToPath(new URL('../..', import.meta.url)), values.at, {
  sources: values.source,
  tests: values.test,
})
const { mutants, all } = study.sample(Number(values.sample), Number(values.seed))
const untilMs = performance.now() + Number(values.minutes) * 60_000

/** Runs what is left until the time is up, and says the number of each mutant before it is run. */
async function runLeft(): Promise<void> {
  // A run that was broken off may have left its mutant.
  for (const mutant of mutants) study.restore(mutant)
  const coverage = study.coverage(untilMs)
  if (coverage === null) return
  const done = new Set(study.outcomes().map(({ index }) => index))
  const repeated = await RepeatedTests.open(study.copy)
  for (const [index, mutant] of mutants.entries()) {
    if (done.has(index) || mutant.isType) continue
    if (performance.now() > untilMs) break
    const reaching = coverage.filter(({ lines }) => lines[mutant.file]?.includes(mutant.line))
    if (reaching.length === 0) {
      study.note({ index, by: 'uncovered' })
      continue
    }
    process.stdout.write(`${index}\n`)
    repeated.changed(study.write(mutant))
    const by = await repeated.firstToFail(reaching.map(({ test }) => test))
    repeated.changed(study.restore(mutant))
    study.note({ index, by: by ?? 'none' })
  }
  await repeated.close()
}

/** Has a child do it. When it says nothing for long its mutant hangs: that is noticing too, and another child goes on. */
async function runWatched(): Promise<void> {
  for (let goesOn = true; goesOn; ) {
    const minutes = String((untilMs - performance.now()) / 60_000)
    const options = [
      '--at',
      values.at!,
      '--sample',
      values.sample,
      '--seed',
      values.seed,
      '--minutes',
      minutes,
      ...values.source.flatMap((source) => ['--source', source]),
      ...values.test.flatMap((test) => ['--test', test]),
    ]
    const program = ['--import', 'tsx', fileURLToPath(import.meta.url), '--child', ...options]
    const child = spawn(process.execPath, program, { stdio: ['ignore', 'pipe', 'inherit'], detached: true })
    let running = -1
    let hangs = false
    const giveUp = () => {
      hangs = true
      process.kill(-child.pid!, 'SIGKILL')
    }
    let patience = setTimeout(giveUp, Math.max(0, untilMs - performance.now()) + patienceMs)
    child.stdout!.on('data', (said: Buffer) => {
      clearTimeout(patience)
      patience = setTimeout(giveUp, patienceMs)
      running = Number(said.toString().trim().split('\n').at(-1))
    })
    const code = await new Promise((resolve) => child.once('exit', resolve))
    clearTimeout(patience)
    if (!hangs && code !== 0) throw new Error(`the child ended with ${code} at mutant ${running}`)
    if (hangs && running >= 0) {
      study.restore(mutants[running])
      study.note({ index: running, by: 'hang' })
    }
    goesOn = hangs && performance.now() < untilMs
  }
}

function tell(): void {
  const outcomes = study.outcomes().filter(({ index }) => !mutants[index].isType)
  const unnoticed = outcomes.filter(({ by }) => by === 'none' || by === 'uncovered')
  for (const { index, by } of unnoticed) {
    const { file, line, what } = mutants[index]
    process.stdout.write(`${by === 'none' ? 'unnoticed' : 'not reached'}: ${file}:${line} ${what}\n`)
  }
  const noticed = outcomes.length - unnoticed.length
  const rounded = (share: number) => Number(share.toFixed(3))
  const [low, high] = wilsonInterval(noticed, outcomes.length).map(rounded)
  const score = rounded(noticed / outcomes.length)
  const counts = { all, sample: mutants.length, done: outcomes.length, noticed, score, low, high }
  process.stdout.write(`${JSON.stringify(counts)}\n`)
}

if (values.child) await runLeft()
else {
  await runWatched()
  tell()
}
