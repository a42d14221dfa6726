import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { root, sources } from '#tests/house/source-files.ts'

// Inside the clone, so that the program finds its packages and its package.json; out of the way of dist.
const builds = join(root, 'node_modules', '.cache', 'stillhold')
const keptMs = 24 * 3600 * 1000

let path: Promise<string> | null = null

/**
 * The program built from the sources as they stand. One build serves all tests that run it, until a source changes: it
 * starts in a quarter of the time that the sources need.
 */
export function builtProgram(): Promise<string> {
  path ??= build()
  return path
}

async function build(): Promise<string> {
  const key = createHash('sha256')
  for (const file of ['package.json', 'vite.config.ts']) key.update(readFileSync(join(root, file)))
  for (const { path, text } of sources) key.update(`${path}\0${text}\0`)
  const folder = join(builds, key.digest('hex').slice(0, 16))
  const program = join(folder, 'stillhold.js')
  if (existsSync(program)) return program
  removeOld()
  const vite = await import('vite')
  const outDir = `${folder}.${process.pid}`
  await vite.build({
    configFile: join(root, 'vite.config.ts'),
    root,
    logLevel: 'error',
    build: { outDir, emptyOutDir: true },
  })
  try {
    renameSync(outDir, folder)
  } catch (cause) {
    // Another process was quicker with the same sources.
    if (!existsSync(program)) throw cause
    rmSync(outDir, { recursive: true, force: true })
  }
  return program
}

function removeOld(): void {
  mkdirSync(builds, { recursive: true })
  for (const name of readdirSync(builds)) {
    const old = join(builds, name)
    if (Date.now() - statSync(old).mtimeMs > keptMs) rmSync(old, { recursive: true, force: true })
  }
}
