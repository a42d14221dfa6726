import { type ChildProcess, spawn } from 'node:child_process'
import { createHash } from 'node:crypto'
import { once } from 'node:events'
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join, relative } from 'node:path'
import type { Mutant } from './mutants-of.ts'
import type { TestAnswer, TestRequest } from './test-process.ts'

/** The tests of a mutant may take this many times as long as they did unchanged, and this much more; else they hang, [ms]. */
const patienceTimes = 3
const patienceMs = 60_000

export const hashOf = (parts: readonly string[]): string =>
  createHash('sha256').update(parts.join('\0')).digest('hex')

interface Survey {
  readonly places: readonly number[]
  readonly durationMs: number
}

/** The tests of a room in a copy of the clone, and which of them reach which mutant. */
export class RoomTests {
  readonly #copy: string
  readonly #surveyFile: string
  readonly #surveys = new Map<string, Survey>()
  #before = ''
  #process: ChildProcess | undefined

  /** @param surveyFile keeps surveys from run to run: they take longer than a mutant */
  constructor(copy: string, surveyFile: string) {
    this.#copy = copy
    this.#surveyFile = surveyFile
  }

  /**
   * Runs the tests on marked sources once, except those that an earlier run surveyed. Returns the failure where one fails.
   *
   * @param version of everything that is no test file
   */
  async survey(
    marked: ReadonlyMap<string, string>,
    tests: readonly string[],
    version: string,
  ): Promise<string> {
    const keep = existsSync(this.#surveyFile) ? JSON.parse(readFileSync(this.#surveyFile, 'utf8')) : {}
    const key = (test: string): string => hashOf([version, ...marked.keys(), test, this.#read(test)])
    const open = tests.filter((test) => keep[key(test)] === undefined)
    const folder = join(this.#copy, 'reached-places')
    mkdirSync(folder)
    const originals = new Map([...marked.keys()].map((file) => [file, this.#read(file)]))
    for (const [file, text] of marked) this.#write(file, text)
    const asked = { changed: [], tests: open.map((test) => join(this.#copy, test)) }
    const { passed, failure, durationsMs } = await this.#ask(asked, null, { MUTANTS_REACHED: folder })
    this.stop()
    for (const [file, text] of originals) this.#write(file, text)
    for (const name of passed ? readdirSync(folder) : []) {
      const { testFile, places } = JSON.parse(readFileSync(join(folder, name), 'utf8'))
      keep[key(relative(this.#copy, testFile))] = { places, durationMs: durationsMs[testFile] }
    }
    rmSync(folder, { recursive: true })
    mkdirSync(dirname(this.#surveyFile), { recursive: true })
    writeFileSync(this.#surveyFile, JSON.stringify(keep))
    for (const test of tests) if (passed) this.#surveys.set(join(this.#copy, test), keep[key(test)])
    return failure
  }

  /** The tests that reach a mutant, the quickest first. */
  reaching({ place }: Mutant): string[] {
    return [...this.#surveys]
      .filter(([, { places }]) => places.includes(place))
      .toSorted(([, a], [, b]) => a.durationMs - b.durationMs)
      .map(([test]) => test)
  }

  /** The failure of the first test that notices a mutant; empty where none does. */
  async failureOf(mutant: Mutant): Promise<string> {
    const { file, text } = mutant
    const original = this.#read(file)
    this.#write(file, text)
    // The file of the mutant before is whole again, but is still compiled as it was.
    const changed = [file, this.#before].map((one) => join(this.#copy, one))
    const failure = await this.#failureOf(this.reaching(mutant), changed)
    if (this.reaching(mutant).length > 0) this.#before = file
    this.#write(file, original)
    // A kept process would tell the failure of this mutant for the next ones too.
    this.stop()
    return failure
  }

  /** The failure where the tests do not pass unchanged one after another, as mutants run them. */
  async failureUnchanged(): Promise<string> {
    return this.#failureOf([...this.#surveys.keys()], [])
  }

  async #failureOf(tests: readonly string[], changed: readonly string[]): Promise<string> {
    if (tests.length === 0) return ''
    const unchangedMs = tests.reduce((sum, test) => sum + this.#surveys.get(test)!.durationMs, 0)
    const answer = await this.#ask({ changed, tests }, patienceMs + patienceTimes * unchangedMs)
    return answer.failure
  }

  /** Ends the test process and the workers that it started. */
  stop(): void {
    if (this.#process !== undefined) process.kill(-this.#process.pid!, 'SIGKILL')
    this.#process = undefined
  }

  async #ask(
    request: TestRequest,
    patience: number | null,
    more: NodeJS.ProcessEnv = {},
  ): Promise<TestAnswer> {
    if (this.#process === undefined) {
      this.#process = spawn(process.execPath, ['--import', 'tsx', 'tests/mutants/test-process.ts'], {
        cwd: this.#copy,
        env: { ...process.env, CI: 'false', ...more },
        stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
        detached: true,
      })
      await once(this.#process, 'message')
    }
    const hangs = { passed: false, failure: 'the tests hang or end their process', durationsMs: {} }
    const stopping = new AbortController()
    const answer = Promise.race([
      once(this.#process, 'message', stopping).then(([message]) => message as TestAnswer),
      once(this.#process, 'exit', stopping).then(() => hangs),
      new Promise<TestAnswer>((resolve) => {
        if (patience === null) return
        const timer = setTimeout(() => resolve(hangs), patience)
        stopping.signal.addEventListener('abort', () => clearTimeout(timer))
      }),
    ])
    this.#process.send(request)
    const got = await answer
    stopping.abort()
    if (got === hangs) this.stop()
    return got
  }

  #read(file: string): string {
    return readFileSync(join(this.#copy, file), 'utf8')
  }

  #write(file: string, text: string): void {
    writeFileSync(join(this.#copy, file), text)
  }
}
