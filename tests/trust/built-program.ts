import { existsSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { build } from 'vite'

const root = fileURLToPath(new URL('../..', import.meta.url))
// Inside the clone, so that the program finds its packages and its package.json; out of the way of dist.
const outDir = join(root, 'node_modules', '.cache', 'stillhold-trust', String(process.pid))

let path: Promise<string> | null = null

/** The program built from the sources as they stand, in a folder of this process alone. */
export function builtProgram(): Promise<string> {
  path ??= (async () => {
    process.once('exit', () => rmSync(outDir, { recursive: true, force: true }))
    await build({
      configFile: join(root, 'vite.config.ts'),
      root,
      logLevel: 'error',
      build: { outDir, emptyOutDir: true },
    })
    const program = join(outDir, 'stillhold.js')
    if (!existsSync(program)) throw new Error(`the build made no ${program}`)
    return program
  })()
  return path
}
