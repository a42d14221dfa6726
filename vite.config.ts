import { readFileSync } from 'node:fs'
import { defineConfig } from 'vite'

const { version } = JSON.parse(readFileSync(new URL('package.json', import.meta.url), 'utf8'))

/** Builds the command line with the server, and the analysis thread; packages of node_modules stay outside. */
export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify(version) },
  publicDir: false,
  build: {
    ssr: true,
    outDir: 'dist',
    emptyOutDir: false,
    target: 'node20',
    rollupOptions: {
      input: {
        stillhold: 'dashboard/cli/main.ts',
        'analysis-worker': 'dashboard/server/session/analysis-worker.ts',
      },
      output: { entryFileNames: '[name].js', chunkFileNames: 'chunks/[name]-[hash].js' },
    },
  },
})
