import { createVitest, type Vitest } from 'vitest/node'

/** Runs test files of one folder again and again in one process, so that only what changed is read anew. */
export class RepeatedTests {
  readonly #vitest: Vitest

  private constructor(vitest: Vitest) {
    this.#vitest = vitest
  }

  static async open(root: string): Promise<RepeatedTests> {
    const options = { root, watch: false, bail: 1, maxWorkers: 1, fileParallelism: false, reporters: [{}] }
    return new RepeatedTests(await createVitest('test', options))
  }

  /** A source was written. */
  changed(path: string): void {
    this.#vitest.invalidateFile(path)
  }

  /** The first of the files, in their order, that does not pass; null when all do. */
  async firstToFail(files: readonly string[]): Promise<string | null> {
    for (const file of files) {
      const specifications = await this.#vitest.globTestSpecifications([file])
      const { testModules, unhandledErrors } = await this.#vitest.runTestSpecifications(specifications, false)
      this.#vitest.state.clearErrors()
      if (testModules.length === 0) throw new Error(`${file} is no test here`)
      if (unhandledErrors.length > 0 || testModules.some((module) => module.state() !== 'passed')) return file
    }
    return null
  }

  async close(): Promise<void> {
    await this.#vitest.close()
    // A test that failed has set it; that is what it was to do.
    process.exitCode = 0
  }
}
