import { defineConfig } from 'vitest/config'

/** Statistical campaigns: many simulated holds each, minutes of processor. CI runs them; `npm test` does not. */
export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['tests/**/*.campaign.test.ts'],
    isolate: false,
    setupFiles: ['./tests/each-file.ts'],
    testTimeout: 900_000,
    maxWorkers: 2,
    reporters: ['default', './tests/closing-line.ts'],
  },
})
