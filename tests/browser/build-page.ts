import { fileURLToPath } from 'node:url'
import { build } from 'vite'

/** The page as it ships, built once for all browser tests beside the real dist. */
export const pageFolder = fileURLToPath(new URL('../../artifacts/web', import.meta.url))

export default async function setup(): Promise<void> {
  // The test runner's own word would build the libraries' development halves in.
  process.env.NODE_ENV = 'production'
  await build({
    configFile: fileURLToPath(new URL('../../vite.page.config.ts', import.meta.url)),
    logLevel: 'error',
    build: { outDir: pageFolder },
  })
}
