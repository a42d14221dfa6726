import { execFileSync } from 'node:child_process'
import {
  appendFileSync,
  cpSync,
  existsSync,
  mkdirSync,
  readFileSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { seededRandom } from '#ingest/simulator/random.ts'
import { coveredLines, type TestCoverage } from './covered-lines.ts'
import { type Mutant, mutantsOf } from './mutants.ts'

export interface ChosenMutant extends Mutant {
  readonly file: string
}

export interface Outcome {
  readonly index: number
  /** The test file that noticed, `hang` when it never ended; `none` or `uncovered` when nothing noticed. */
  readonly by: string
}

export interface StudyScope {
  readonly sources: readonly string[]
  readonly tests: readonly string[]
}

/** One sample of mutants in a folder of its own: a clean copy of the clone, one to mutate, and what was found so far. */
export class MutationStudy {
  readonly copy: string
  readonly #clean: string
  readonly #coverage: string
  readonly #outcomes: string
  readonly #scope: StudyScope

  /** @param root the clone; copied when the folder is new, with what is not committed yet */
  constructor(root: string, folder: string, scope: StudyScope) {
    this.copy = join(folder, 'copy')
    this.#clean = join(folder, 'clean')
    this.#coverage = join(folder, 'coverage.json')
    this.#outcomes = join(folder, 'outcomes.jsonl')
    const list = join(folder, 'files.json')
    if (!existsSync(list)) {
      const names = filesOf(root)
      for (const to of [this.#clean, this.copy]) {
        mkdirSync(to, { recursive: true })
        for (const name of names) cpSync(join(root, name), join(to, name))
        symlinkSync(join(root, 'node_modules'), join(to, 'node_modules'))
      }
      writeFileSync(list, JSON.stringify(names))
    }
    const all = JSON.parse(readFileSync(list, 'utf8')) as string[]
    const under = (places: readonly string[]) =>
      all.filter((name) => places.some((place) => name === place || name.startsWith(`${place}/`)))
    this.#scope = {
      sources: under(scope.sources),
      tests: under(scope.tests).filter((name) => name.endsWith('.test.ts')),
    }
  }

  /** A random sample of all mutants; the same for the same seed. */
  sample(size: number, seed: number): { readonly mutants: ChosenMutant[]; readonly all: number } {
    const all = this.#scope.sources.flatMap((file) =>
      mutantsOf(readFileSync(join(this.#clean, file), 'utf8')).map((mutant) => ({ file, ...mutant })),
    )
    const random = seededRandom(seed)
    const left = [...all]
    const mutants: ChosenMutant[] = []
    while (mutants.length < size && left.length > 0)
      mutants.push(...left.splice(Math.floor(random.uniform(0, left.length)), 1))
    return { mutants, all: all.length }
  }

  /** What each test file reaches, the quick ones first; kept once found. Null when the time was up before. */
  coverage(untilMs: number): TestCoverage[] | null {
    const path = this.#coverage
    const known: TestCoverage[] = existsSync(path) ? JSON.parse(readFileSync(path, 'utf8')) : []
    for (const test of this.#scope.tests.slice(known.length)) {
      if (performance.now() > untilMs) return null
      known.push(coveredLines(this.copy, test, this.#scope.sources))
      writeFileSync(path, JSON.stringify(known))
    }
    return known.sort((a, b) => a.ms - b.ms)
  }

  write({ file, text }: ChosenMutant): string {
    writeFileSync(join(this.copy, file), text)
    return join(this.copy, file)
  }

  restore({ file }: ChosenMutant): string {
    cpSync(join(this.#clean, file), join(this.copy, file))
    return join(this.copy, file)
  }

  outcomes(): Outcome[] {
    if (!existsSync(this.#outcomes)) return []
    const lines = readFileSync(this.#outcomes, 'utf8').trim().split('\n')
    return lines.filter((line) => line !== '').map((line) => JSON.parse(line) as Outcome)
  }

  note(outcome: Outcome): void {
    appendFileSync(this.#outcomes, `${JSON.stringify(outcome)}\n`)
  }
}

function filesOf(root: string): string[] {
  const names = execFileSync('git', ['ls-files'], { cwd: root, encoding: 'utf8' }).trim().split('\n')
  return names.filter((name) => existsSync(join(root, name)))
}
