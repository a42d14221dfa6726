import { defineConfig } from 'vitest/config'

/** Tests in a real browser, two files at a time: many of them wait for the bench more than they work. */
export default defineConfig({
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['tests/browser/**/*.test.ts'],
    globalSetup: ['tests/browser/build-page.ts'],
    maxWorkers: 2,
    testTimeout: 120_000,
    hookTimeout: 120_000,
    reporters: ['default', './tests/closing-line.ts'],
  },
})
