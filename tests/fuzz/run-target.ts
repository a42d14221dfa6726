import { seededRandom } from '#ingest/simulator/random.ts'
import { mutateBytes } from './mutate-bytes.ts'
import type { Target } from './targets.ts'

export interface FuzzReport {
  readonly target: string
  readonly inputs: number
  readonly meanMs: number
  /** Processor time of the slowest input: what a busy machine makes it wait is not its own. */
  readonly slowestCpuMs: number
  /** Number of the slowest input. */
  readonly slowest: number
  /** Growth of the heap from the first tenth of the run to its end, [MB]. */
  readonly heapMb: number
  readonly faults: readonly string[]
}

/**
 * Feeds a target mutated seeds. A fault names the input's number: the same seed makes the same input again.
 *
 * @param first number of the first input, to run the rest of a long run
 */
export async function runTarget(
  target: Target,
  inputs: number,
  seed: number,
  first = 0,
): Promise<FuzzReport> {
  const faults: string[] = []
  let slowestCpuMs = 0
  let totalMs = 0
  let slowest = 0
  let heapAtFirst = 0
  for (let input = first; input < first + inputs && faults.length < 10; input++) {
    const random = seededRandom(seed, input)
    const seedBytes = random.pick(target.seeds)
    const bytes = mutateBytes(seedBytes, random)
    const beganMs = performance.now()
    const before = process.cpuUsage()
    try {
      await target.run(bytes, random, seedBytes)
    } catch (error) {
      faults.push(`input ${input}: ${(error as Error).stack?.split('\n').slice(0, 3).join(' ')}`)
    }
    const tookMs = performance.now() - beganMs
    if (tookMs > target.mostMs) faults.push(`input ${input} took ${Math.round(tookMs)} ms`)
    const { user, system } = process.cpuUsage(before)
    const cpuMs = (user + system) / 1000
    totalMs += tookMs
    if (cpuMs > slowestCpuMs) slowest = input
    slowestCpuMs = Math.max(slowestCpuMs, cpuMs)
    if (input === first + Math.floor(inputs / 10)) heapAtFirst = process.memoryUsage().heapUsed
  }
  const heapMb = Math.round((process.memoryUsage().heapUsed - heapAtFirst) / 1e6)
  await target.close?.()
  const meanMs = Number((totalMs / inputs).toFixed(2))
  return {
    target: target.name,
    inputs,
    meanMs,
    slowestCpuMs: Math.round(slowestCpuMs),
    slowest,
    heapMb,
    faults,
  }
}
