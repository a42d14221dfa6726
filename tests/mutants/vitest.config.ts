import { defineConfig } from 'vitest/config'

/** Where each test file writes which places it reached; empty when mutants are run. */
const reachedFolder = process.env['MUTANTS_REACHED'] ?? ''

export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify('0.0.0-test') },
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['tests/**/*.test.ts'],
    // A file that reuses what an earlier one computed would seem not to reach the code.
    isolate: reachedFolder !== '',
    setupFiles: ['./tests/each-file.ts', './tests/mutants/reached-places.ts'],
    testTimeout: 120_000,
    hookTimeout: 120_000,
    maxWorkers: 1,
    bail: 1,
    reporters: [{}],
  },
})
