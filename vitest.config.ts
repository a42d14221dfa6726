import { defineConfig } from 'vitest/config'

export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify('0.0.0-test') },
  test: {
    include: ['tests/**/*.test.ts'],
    exclude: ['tests/browser/**', 'tests/trust/**', 'tests/**/*.campaign.test.ts', 'node_modules/**'],
    // Loading the modules anew for each file costs a third of the run. A test therefore leaves no timer, no listener and
    // no changed environment behind.
    isolate: false,
    setupFiles: ['./tests/each-file.ts'],
    testTimeout: 120_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    reporters: ['default', './tests/closing-line.ts'],
  },
})
