import { defineConfig } from 'vitest/config'

/** Tests in a real browser; one after the other, for they share two cores with it. */
export default defineConfig({
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['tests/browser/**/*.test.ts'],
    globalSetup: ['tests/browser/build-page.ts'],
    fileParallelism: false,
    testTimeout: 120_000,
    hookTimeout: 120_000,
    reporters: ['default', './tests/closing-line.ts'],
  },
})
