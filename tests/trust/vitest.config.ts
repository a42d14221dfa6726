import { defineConfig } from 'vitest/config'

/** Tests that kill, starve and mislead the real program; one after the other, for they measure the machine. */
export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify('0.0.0-test') },
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['tests/trust/**/*.test.ts'],
    setupFiles: ['./tests/each-file.ts'],
    fileParallelism: false,
    testTimeout: 180_000,
    hookTimeout: 120_000,
    reporters: ['default', './tests/closing-line.ts'],
  },
})
