import { defineConfig } from 'vitest/config'

const apart = ['tests/browser/**', 'tests/trust/**', 'tests/**/*.campaign.test.ts', 'node_modules/**']
/** Tests of pure code leave nothing behind for one another and share their modules. */
const pure = ['tests/analysis/**/*.test.ts', 'tests/validation/**/*.test.ts']

export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify('0.0.0-test') },
  test: {
    // Property tests draw the same cases each time: a run says the same twice. tests/fuzz/run.ts draws anew.
    setupFiles: ['./tests/fixed-seed.ts'],
    testTimeout: 120_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    reporters: ['default', './tests/closing-line.ts'],
    projects: [
      { extends: true, test: { name: 'pure', include: pure, exclude: apart, isolate: false } },
      {
        extends: true,
        test: { name: 'rest', include: ['tests/**/*.test.ts'], exclude: [...apart, ...pure] },
      },
    ],
  },
})
