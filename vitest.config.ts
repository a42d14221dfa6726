import { defineConfig } from 'vitest/config'

export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify('0.0.0-test') },
  test: {
    include: ['tests/**/*.test.ts'],
    exclude: ['tests/browser/**', 'tests/trust/**', 'node_modules/**'],
    testTimeout: 30_000,
    maxWorkers: 2,
    reporters: ['default', './tests/closing-line.ts'],
  },
})
