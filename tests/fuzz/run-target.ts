import { seededRandom } from '#ingest/simulator/random.ts'
import { mutateBytes } from './mutate-bytes.ts'
import type { Target } from './targets.ts'

export interface FuzzReport {
  readonly target: string
  readonly inputs: number
  readonly slowestMs: number
  /** Growth of the heap from the first tenth of the run to its end, [MB]. */
  readonly heapMb: number
  readonly faults: readonly string[]
}

/** Feeds a target mutated seeds. A fault names the input's number: the same seed makes the same input again. */
export async function runTarget(target: Target, inputs: number, seed: number): Promise<FuzzReport> {
  const faults: string[] = []
  let slowestMs = 0
  let heapAtFirst = 0
  for (let input = 0; input < inputs && faults.length < 10; input++) {
    const random = seededRandom(seed, input)
    const bytes = mutateBytes(random.pick(target.seeds), random)
    const beganMs = performance.now()
    try {
      await target.run(bytes, random)
    } catch (error) {
      faults.push(`input ${input}: ${(error as Error).stack?.split('\n').slice(0, 3).join(' ')}`)
    }
    const tookMs = performance.now() - beganMs
    if (tookMs > target.mostMs) faults.push(`input ${input} took ${Math.round(tookMs)} ms`)
    slowestMs = Math.max(slowestMs, tookMs)
    if (input === Math.floor(inputs / 10)) heapAtFirst = process.memoryUsage().heapUsed
  }
  const heapMb = Math.round((process.memoryUsage().heapUsed - heapAtFirst) / 1e6)
  return { target: target.name, inputs, slowestMs: Math.round(slowestMs), heapMb, faults }
}
