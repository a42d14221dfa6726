import { execFileSync, spawnSync } from 'node:child_process'
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { seededRandom } from '#ingest/simulator/random.ts'
import { mutantsOf } from './mutants.ts'

const root = fileURLToPath(new URL('../..', import.meta.url))

/**
 * `tsx tests/trust/mutate.ts --test tests/a.test.ts --most 20 file…`: changes one place of a source at a time, in a copy
 * of the clone, and runs the tests. A mutant that no test notices is printed; the last line is the score as JSON.
 */
const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    test: { type: 'string', multiple: true, default: [] },
    most: { type: 'string', default: '1000' },
    seed: { type: 'string', default: '1' },
  },
})
const copy = mkdtempSync(join(tmpdir(), 'stillhold-mutants-'))
const random = seededRandom(Number(values.seed))
let noticed = 0
let total = 0
try {
  for (const name of execFileSync('git', ['ls-files'], { cwd: root, encoding: 'utf8' }).trim().split('\n'))
    cpSync(join(root, name), join(copy, name), { recursive: true, force: true })
  symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'))
  for (const file of positionals) {
    const source = readFileSync(join(copy, file), 'utf8')
    const mutants = mutantsOf(source)
    while (mutants.length > Number(values.most))
      mutants.splice(Math.floor(random.uniform(0, mutants.length)), 1)
    for (const { line, what, text } of mutants) {
      writeFileSync(join(copy, file), text)
      const run = spawnSync('npx', ['vitest', 'run', '--bail', '1', ...values.test], {
        cwd: copy,
        timeout: 90_000,
        stdio: 'ignore',
      })
      total++
      if (run.status === 0) process.stdout.write(`unnoticed: ${file}:${line} ${what}\n`)
      else noticed++
    }
    writeFileSync(join(copy, file), source)
  }
  process.stdout.write(
    `${JSON.stringify({ files: positionals, mutants: total, noticed, score: Number((noticed / total).toFixed(3)) })}\n`,
  )
} finally {
  rmSync(copy, { recursive: true, force: true })
}
