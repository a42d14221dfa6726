import { spawnSync } from 'node:child_process'
import { readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const preloaded = fileURLToPath(new URL('./process-resources.cjs', import.meta.url))
const told = join(tmpdir(), `stillhold-bench-${process.pid}.json`)
process.on('exit', () => rmSync(told, { force: true }))

/** Runs Node with these words and returns what the process took. On a busy machine its processor time says more than a clock. */
export function runProcess(
  words: readonly string[],
  data: string,
): { readonly seconds: number; readonly processorMs: number; readonly memoryMB: number } {
  const env = { ...process.env, STILLHOLD_DATA: data, BENCH_RESOURCES: told }
  const { status, stderr } = spawnSync(process.execPath, ['--require', preloaded, ...words], {
    env,
    stdio: ['ignore', 'ignore', 'pipe'],
  })
  if (status === null || ![0, 10, 11].includes(status)) throw new Error(`${words.join(' ')}: ${stderr}`)
  return JSON.parse(readFileSync(told, 'utf8'))
}
