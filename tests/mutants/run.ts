import { execFileSync, spawn } from 'node:child_process'
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { seededRandom } from '#ingest/simulator/random.ts'
import { wilsonInterval } from '#tests/wilson-interval.ts'
import { type Mutant, mutantsOf } from './mutants-of.ts'
import { rooms } from './rooms.ts'

/** Share of the mutants that the tests of a room must notice. */
const goal = 0.85
/** One of this many is a constant. */
const oneConstantIn = 3
/** A mutant whose tests take longer hangs, which is noticed, [ms]. */
const patienceMs = 240_000

/**
 * `npm run mutants`: changes one place at a time in a copy of the clone, a random sample of a room's, and runs the room's tests
 * until one notices. Exit code 1 where a room's tests are surely (95 % interval) below the goal. `--changed REF` takes only lines
 * that changed since a commit; so few tell what to look at and fail nothing.
 */
const { values } = parseArgs({
  options: {
    room: { type: 'string', multiple: true, default: Object.keys(rooms) },
    sample: { type: 'string', default: '20' },
    seed: { type: 'string', default: '1' },
    minutes: { type: 'string', default: '60' },
    changed: { type: 'string' },
  },
})
const root = fileURLToPath(new URL('../..', import.meta.url))
const untilMs = performance.now() + Number(values.minutes) * 60_000
const git = (...args: string[]): string => execFileSync('git', args, { cwd: root, encoding: 'utf8' })
const names = git('ls-files', '--cached', '--others', '--exclude-standard').trim().split('\n')
const copy = mkdtempSync(join(tmpdir(), 'stillhold-mutants-'))
for (const name of names.filter((one) => existsSync(join(root, one))))
  cpSync(join(root, name), join(copy, name))
for (const name of ['node_modules', 'dist'].filter((one) => existsSync(join(root, one))))
  symlinkSync(join(root, name), join(copy, name))

/** Lines of the sources that changed since a commit, as `file:line`; null where all count. */
function changedLines(since: string): Set<string> {
  const lines = new Set<string>()
  let file = ''
  for (const line of git('diff', '-U0', since, '--', ...Object.keys(rooms)).split('\n')) {
    if (line.startsWith('+++ ')) file = line.slice(6)
    const [, from, count] = /^@@ -\S+ \+(\d+)(?:,(\d+))? @@/.exec(line) ?? []
    for (let n = 0; n < Number(count ?? (from === undefined ? 0 : 1)); n++)
      lines.add(`${file}:${Number(from) + n}`)
  }
  return lines
}

async function sampleOf(room: string, changed: Set<string> | null): Promise<Mutant[]> {
  const all: Mutant[] = []
  for (const name of names)
    if (name.startsWith(`${room}/`) && /^[^/]+\.ts$/.test(name.slice(room.length + 1)))
      all.push(...(await mutantsOf(name, readFileSync(join(copy, name), 'utf8'))))
  const open = all.filter(({ file, line }) => changed === null || changed.has(`${file}:${line}`))
  const random = seededRandom(Number(values.seed))
  const drawn: Mutant[] = []
  const draw = (from: Mutant[]): void => {
    if (from.length > 0) drawn.push(...from.splice(Math.floor(random.uniform(0, from.length)), 1))
  }
  const constants = open.filter(({ mutator }) => mutator === 'Constant')
  const others = open.filter(({ mutator }) => mutator !== 'Constant')
  for (let n = 0; n < Number(values.sample); n++) draw(n % oneConstantIn === 0 ? constants : others)
  return drawn
}

/** Whether all tests of a room pass. What hangs is killed with the workers that it started. */
async function passes(room: string): Promise<boolean> {
  const vitest = join(copy, 'node_modules/vitest/vitest.mjs')
  const run = spawn(process.execPath, [vitest, 'run', '--config', 'tests/mutants/vitest.config.ts'], {
    cwd: copy,
    env: { ...process.env, MUTANT_TESTS: rooms[room].join(' '), CI: 'false' },
    stdio: 'ignore',
    detached: true,
  })
  const patience = setTimeout(() => process.kill(-run.pid!, 'SIGKILL'), patienceMs)
  const code = await new Promise((resolve) => run.once('exit', resolve))
  clearTimeout(patience)
  return code === 0
}

const short = (text: string): string => {
  const line = text.replace(/\s+/g, ' ')
  return line.length > 70 ? `${line.slice(0, 70)}…` : line
}

let below = false
try {
  const changed = values.changed === undefined ? null : changedLines(values.changed)
  for (const room of values.room) {
    const sample = await sampleOf(room, changed)
    if (sample.length === 0 || performance.now() > untilMs) continue
    // What changed was tested just before.
    if (changed === null && !(await passes(room)))
      throw new Error(`the tests of ${room} do not pass unchanged`)
    let noticed = 0
    let done = 0
    for (const { file, line, mutator, from, to, text } of sample) {
      if (performance.now() > untilMs) break
      const original = readFileSync(join(copy, file), 'utf8')
      writeFileSync(join(copy, file), text)
      const survives = await passes(room)
      writeFileSync(join(copy, file), original)
      done++
      if (!survives) noticed++
      else process.stdout.write(`unnoticed  ${file}:${line}  ${mutator}: ${short(from)} -> ${short(to)}\n`)
    }
    const [low, high] = wilsonInterval(noticed, done)
    if (changed === null && high < goal) below = true
    const bounds = `${Math.round(100 * low)} to ${Math.round(100 * high)} %`
    process.stdout.write(`${room}: ${noticed} of ${done} noticed (${bounds}), seed ${values.seed}\n`)
  }
} finally {
  rmSync(copy, { recursive: true, force: true })
}
if (below) process.exitCode = 1
