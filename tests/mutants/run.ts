import { execFileSync } from 'node:child_process'
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { seededRandom } from '#ingest/simulator/random.ts'
import { wilsonInterval } from '#tests/wilson-interval.ts'
import { type Mutant, mutantsOf } from './mutants-of.ts'
import { hashOf, RoomTests } from './room-tests.ts'
import { alsoOfRoom, rooms } from './rooms.ts'

/** Share of the mutants that the tests of a room must notice. */
const goal = 0.85
/** One of this many is a constant. */
const oneConstantIn = 3

/**
 * `npm run mutants`: changes one place at a time in a copy of the clone, a random sample of a room's, and runs those of the
 * room's tests that reach the place until one notices. Exit code 1 where a room's tests are surely (95 % interval) below the
 * goal. `--changed REF` takes only lines that changed since a commit; so few tell what to look at and fail nothing.
 * `--place FILE:LINE` takes every mutant of a line, to see whether new tests notice them,
 * `--told` says of each noticed one what failed.
 */
const { values } = parseArgs({
  options: {
    room: { type: 'string', multiple: true, default: Object.keys(rooms) },
    sample: { type: 'string', default: '20' },
    seed: { type: 'string', default: '1' },
    minutes: { type: 'string', default: '60' },
    changed: { type: 'string' },
    place: { type: 'string', multiple: true },
    told: { type: 'boolean' },
  },
})
const root = fileURLToPath(new URL('../..', import.meta.url))
const untilMs = performance.now() + Number(values.minutes) * 60_000
const git = (...args: string[]): string => execFileSync('git', args, { cwd: root, encoding: 'utf8' })
const names = git('ls-files', '--cached', '--others', '--exclude-standard')
  .trim()
  .split('\n')
  .filter((one) => existsSync(join(root, one)))
const copy = mkdtempSync(join(tmpdir(), 'stillhold-mutants-'))
for (const name of names) cpSync(join(root, name), join(copy, name))
for (const name of ['node_modules', 'dist'].filter((one) => existsSync(join(root, one))))
  symlinkSync(join(root, name), join(copy, name))

/** Lines of the sources that changed since a commit, as `file:line`. */
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

function sampleOf(mutants: readonly Mutant[]): Mutant[] {
  const random = seededRandom(Number(values.seed))
  const drawn: Mutant[] = []
  const draw = (from: Mutant[]): void => {
    if (from.length > 0) drawn.push(...from.splice(Math.floor(random.uniform(0, from.length)), 1))
  }
  const constants = mutants.filter(({ mutator }) => mutator === 'Constant')
  const others = mutants.filter(({ mutator }) => mutator !== 'Constant')
  for (let n = 0; n < Number(values.sample); n++) draw(n % oneConstantIn === 0 ? constants : others)
  return drawn
}

function testsOf(room: string): string[] {
  const isOf = (name: string, place: string): boolean =>
    name === place ||
    (name.startsWith(`${place}/`) && name.endsWith('.test.ts') && !name.endsWith('.campaign.test.ts'))
  return names.filter((name) => rooms[room].some((place) => isOf(name, place)))
}

const short = (text: string): string => {
  const line = text.replace(/\s+/g, ' ')
  return line.length > 70 ? `${line.slice(0, 70)}…` : line
}

const changed =
  values.place !== undefined
    ? new Set(values.place)
    : values.changed === undefined
      ? null
      : changedLines(values.changed)
const version = hashOf(
  names.filter((name) => !name.endsWith('.test.ts')).map((name) => readFileSync(join(copy, name), 'latin1')),
)
let below = false
let tests: RoomTests | undefined
try {
  for (const room of values.room) {
    const places = [room, ...(alsoOfRoom[room] ?? [])]
    const isOf = (name: string): boolean => places.includes(name) || places.includes(dirname(name))
    const sources = new Map(
      names
        .filter((name) => name.endsWith('.ts') && isOf(name))
        .map((name) => [name, readFileSync(join(copy, name), 'utf8')]),
    )
    const { mutants, marked } = await mutantsOf(sources)
    const open = mutants.filter(({ file, line }) => changed === null || changed.has(`${file}:${line}`))
    const sample = values.place === undefined ? sampleOf(open) : open
    if (sample.length === 0 || performance.now() > untilMs) continue
    tests = new RoomTests(copy, join(root, 'node_modules/.cache/mutants.json'))
    const failure = (await tests.survey(marked, testsOf(room), version)) || (await tests.failureUnchanged())
    if (failure !== '') throw new Error(`the tests of ${room} do not pass unchanged: ${failure}`)
    let noticed = 0
    let done = 0
    for (const mutant of sample) {
      if (performance.now() > untilMs) break
      const { file, line, mutator, from, to } = mutant
      done++
      const what = `${file}:${line}  ${mutator}: ${short(from)} -> ${short(to)}`
      const by = await tests.failureOf(mutant)
      if (by !== '') noticed++
      if (by === '') {
        const unreached = tests.reaching(mutant).length === 0 ? ' (no test gets here)' : ''
        process.stdout.write(`unnoticed  ${what}${unreached}\n`)
      } else if (values.told) process.stdout.write(`noticed  ${what}  by  ${short(by)}\n`)
    }
    tests.stop()
    const [low, high] = wilsonInterval(noticed, done)
    if (changed === null && high < goal) below = true
    const bounds = `${Math.round(100 * low)} to ${Math.round(100 * high)} %`
    const cut = done < sample.length ? `, time over: ${sample.length - done} not run` : ''
    process.stdout.write(`${room}: ${noticed} of ${done} noticed (${bounds}), seed ${values.seed}${cut}\n`)
  }
} finally {
  tests?.stop()
  rmSync(copy, { recursive: true, force: true })
}
if (below) process.exitCode = 1
