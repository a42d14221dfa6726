import { copyFileSync, mkdirSync, readFileSync } from 'node:fs'
import { dirname, join, resolve } from 'node:path'
import { defineConfig, type Plugin } from 'vite'

const { version } = JSON.parse(readFileSync(new URL('package.json', import.meta.url), 'utf8'))

/** Puts the faces of the test report and the PDF writer's color profile beside the program; their packages hold far more. */
function reportFiles(): Plugin {
  let folder = ''
  const put = (from: string, ...to: readonly string[]) => {
    const target = join(folder, ...to)
    mkdirSync(dirname(target), { recursive: true })
    copyFileSync(join(import.meta.dirname, 'node_modules', from), target)
  }
  return {
    name: 'report-files',
    configResolved: ({ root, build }) => {
      folder = resolve(root, build.outDir)
    },
    closeBundle: () => {
      const fonts = '@expo-google-fonts/ibm-plex-sans'
      for (const face of ['300Light', '400Regular', '500Medium', '400Regular_Italic']) {
        const name = `IBMPlexSans_${face}.ttf`
        put(`${fonts}/${face}/${name}`, 'fonts', name)
      }
      put(`${fonts}/LICENSE_FONT`, 'fonts', 'LICENSE_FONT')
      // Where the bundled writer looks for it.
      const profile = 'data/sRGB_IEC61966_2_1.icc'
      put(`pdfkit/js/${profile}`, 'chunks', profile)
    },
  }
}

/**
 * Parts of the PDF writer that a report does not need: the dictionary of WOFF2, half its code, and inflating in script,
 * which Node does natively.
 */
const replaced: Readonly<Record<string, string>> = {
  'brotli/decompress.js': 'module.exports = () => { throw new Error("no WOFF2") }',
  'tiny-inflate': 'module.exports = (from) => new Uint8Array(require("node:zlib").inflateRawSync(from))',
}
const lighterWriter: Plugin = {
  name: 'lighter-writer',
  enforce: 'pre',
  resolveId: (id) => (Object.hasOwn(replaced, id) ? `\0${id}` : null),
  load: (id) => replaced[id.slice(1)] ?? null,
}

/**
 * Builds the command line with the server, and the threads of analysis and check, with the packages they use. Only what comes compiled for
 * each system stays outside.
 */
export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify(version) },
  publicDir: false,
  plugins: [reportFiles(), lighterWriter],
  ssr: { noExternal: true, external: ['libsql', 'serialport'] },
  build: {
    ssr: true,
    outDir: 'dist',
    emptyOutDir: true,
    license: { fileName: 'licenses.md' },
    target: 'node20',
    rollupOptions: {
      input: {
        stillhold: 'dashboard/cli/main.ts',
        'analysis-worker': 'dashboard/server/session/analysis-worker.ts',
        'check-thread': 'dashboard/archive/check-thread.ts',
      },
      output: { entryFileNames: '[name].js', chunkFileNames: 'chunks/[name]-[hash].js' },
    },
  },
})
