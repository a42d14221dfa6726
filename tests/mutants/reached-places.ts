import { writeFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { setEnvironmentData } from 'node:worker_threads'
import { afterAll, expect } from 'vitest'

/** A setup file: which marks of `mutantsOf` a test file reaches, from the load of its modules to its end. */
const folder = process.env['MUTANTS_REACHED']
if (folder !== undefined) {
  const shared = new SharedArrayBuffer(1_000_000)
  const reached = new Uint8Array(shared)
  setEnvironmentData('reachedPlaces', shared)
  Object.assign(globalThis, { reachedPlaces: reached })
  afterAll(() => {
    const testFile = expect.getState().testPath!
    const places = [...reached.entries()].filter(([, mark]) => mark === 1).map(([place]) => place)
    const name = `${basename(testFile)}-${process.pid}-${performance.now()}.json`
    writeFileSync(join(folder, name), JSON.stringify({ testFile, places }))
  })
}
