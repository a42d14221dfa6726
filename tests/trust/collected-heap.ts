import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'

setFlagsFromString('--expose_gc')
const collectGarbage = runInNewContext('gc') as () => void

/** Memory of this thread with its garbage collected, [MB]: what is retained. `rssMb` is of the whole process. */
export function collectedHeap(): {
  readonly heapMb: number
  readonly buffersMb: number
  readonly rssMb: number
} {
  collectGarbage()
  const { heapUsed, arrayBuffers, rss } = process.memoryUsage()
  const mb = (bytes: number) => Number((bytes / 1e6).toFixed(1))
  return { heapMb: mb(heapUsed), buffersMb: mb(arrayBuffers), rssMb: mb(rss) }
}
