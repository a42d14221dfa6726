import type { Reporter, TestModule } from 'vitest/node'

/**
 * Ends a run with the one line `N passed, N failed, N skipped`.
 * With CI=true a skipped test fails the run: what cannot be tested there is not known to work.
 */
export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: ReadonlyArray<TestModule>): void {
    const count = { passed: 0, failed: 0, skipped: 0 }
    for (const module of modules) {
      if (module.state() === 'failed' && module.children.size === 0) count.failed++
      for (const test of module.children.allTests()) {
        const { state } = test.result()
        if (state === 'passed') count.passed++
        else if (state === 'failed') count.failed++
        else count.skipped++
      }
    }
    if (process.env.CI === 'true' && count.skipped > 0) process.exitCode = 1
    process.once('exit', () => {
      process.stdout.write(`${count.passed} passed, ${count.failed} failed, ${count.skipped} skipped\n`)
    })
  }
}
