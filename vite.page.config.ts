import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { brotliCompressSync, gzipSync } from 'node:zlib'
import { defineConfig, type Plugin } from 'vite'
import { languageFile, pageIn } from './dashboard/catalogue.ts'

/** Writes `.br` and `.gz` beside each text file, so that the server compresses nothing while it records. */
function compressedAssets(): Plugin {
  let folder = ''
  return {
    name: 'compressed-assets',
    configResolved: ({ root, build }) => {
      folder = resolve(root, build.outDir)
    },
    closeBundle: () => {
      for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
        if (!/\.(html|js|css|svg|txt)$/.test(entry.name)) continue
        const path = join(entry.parentPath, entry.name)
        const bytes = readFileSync(path)
        writeFileSync(`${path}.br`, brotliCompressSync(bytes))
        writeFileSync(`${path}.gz`, gzipSync(bytes, { level: 9 }))
      }
    },
  }
}

/** Builds the page into dist/web; it asks nothing of the network but its own server. */
export default defineConfig({
  root: join(import.meta.dirname, 'dashboard/web'),
  base: './',
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  plugins: [pageIn(languageFile(process.env['PAGE_LANGUAGE'])), compressedAssets()],
  build: { outDir: '../../dist/web', emptyOutDir: true, target: 'es2022', assetsInlineLimit: 0 },
})
