import { BaseSequencer, createVitest, type TestSpecification } from 'vitest/node'

/**
 * A process that keeps vitest and its compiled modules, started by {@link ./run.ts}. A message names a source that changed and
 * the test files to run in their order until one fails; the answer tells whether all passed and how long each took.
 */
export interface TestRequest {
  readonly changed: readonly string[]
  readonly tests: readonly string[]
}

export interface TestAnswer {
  readonly passed: boolean
  /** The error of the first test that failed; empty if all passed. */
  readonly failure: string
  readonly durationsMs: Readonly<Record<string, number>>
}

let order: readonly string[] = []

class AsAsked extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    return files.toSorted((a, b) => order.indexOf(a.moduleId) - order.indexOf(b.moduleId))
  }
}

const vitest = await createVitest('test', {
  config: 'tests/mutants/vitest.config.ts',
  watch: false,
  sequence: { sequencer: AsAsked },
})
await vitest.standalone()

process.on('message', async ({ changed, tests }: TestRequest) => {
  for (const file of changed) vitest.invalidateFile(file)
  order = tests
  const project = vitest.getRootProject()
  const { testModules, unhandledErrors } = await vitest.runTestSpecifications(
    tests.map((test) => project.createSpecification(test)),
  )
  const failed = testModules.flatMap((module) => [
    ...module.errors(),
    ...[...module.children.allTests('failed')].flatMap((test) => test.result().errors ?? []),
  ])
  const passed = unhandledErrors.length === 0 && testModules.every((module) => module.ok())
  const answer: TestAnswer = {
    failure: passed
      ? ''
      : [...failed, ...unhandledErrors].map((error) => `${(error as Error).stack}`)[0] || 'a test fails',
    passed,
    durationsMs: Object.fromEntries(testModules.map((one) => [one.moduleId, one.diagnostic().duration])),
  }
  process.send!(answer)
})
// A mutant that loops for ever would outlive a run that was ended.
process.on('disconnect', () => process.kill(-process.pid, 'SIGKILL'))
process.send!('ready')
