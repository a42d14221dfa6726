import { defineConfig } from 'vite'

/** Builds the page into dist/web; it asks nothing of the network but its own server. */
export default defineConfig({
  root: import.meta.dirname,
  base: './',
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: { outDir: '../../dist/web', emptyOutDir: true, target: 'es2022', assetsInlineLimit: 0 },
})
