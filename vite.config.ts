import { readFileSync } from 'node:fs'
import { defineConfig } from 'vite'

const { version } = JSON.parse(readFileSync(new URL('package.json', import.meta.url), 'utf8'))

/** Builds the command line and the server into one file; packages of node_modules stay outside it. */
export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify(version) },
  build: {
    ssr: 'dashboard/cli/main.ts',
    outDir: 'dist',
    emptyOutDir: false,
    target: 'node20',
    rollupOptions: { output: { entryFileNames: 'stillhold.js', chunkFileNames: 'chunks/[name]-[hash].js' } },
  },
})
