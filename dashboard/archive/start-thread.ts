import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { Worker } from 'node:worker_threads'

/**
 * Starts a thread from a file of the program: beside its caller in the sources, beside or above it in the build.
 *
 * @param caller `import.meta.url` of the calling file
 * @param name without extension
 */
export function startThread(caller: string, name: string): Worker {
  if (caller.endsWith('.ts')) {
    // From the sources the thread needs the program's loader, which must be registered inside the thread.
    const source = new URL(`./${name}.ts`, caller)
    const loader = import.meta.resolve('tsx/esm/api')
    const code = `import('${loader}').then(({ register }) => { register(); return import('${source}') })`
    return new Worker(code, { eval: true })
  }
  const found = [`./${name}.js`, `../${name}.js`]
    .map((path) => new URL(path, caller))
    .find((url) => existsSync(fileURLToPath(url)))
  if (!found) throw new Error(`${name}.js is missing beside the program: run npm run build`)
  return new Worker(found)
}
