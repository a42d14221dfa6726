import type { SampleBatch } from '#dashboard/api.ts'

/** Most readings of one channel in one batch: a fast logger is shown by the extremes of each slice. */
const readingsAtMost = 20

/** Collects what arrived since the last batch to the page. */
export class LiveBatch {
  #channels = new Map<string, { timeS: number[]; reading: number[] }>()

  add(channel: string, timeS: number, reading: number): void {
    let columns = this.#channels.get(channel)
    if (!columns) {
      columns = { timeS: [], reading: [] }
      this.#channels.set(channel, columns)
    }
    columns.timeS.push(timeS)
    columns.reading.push(reading)
  }

  /** Hands over the batch and begins a new one; null when nothing arrived. */
  take(): SampleBatch | null {
    if (this.#channels.size === 0) return null
    const channels = Object.fromEntries([...this.#channels].map(([id, columns]) => [id, thin(columns)]))
    this.#channels = new Map()
    return { channels }
  }
}

function thin({ timeS, reading }: { timeS: number[]; reading: number[] }) {
  const slices = readingsAtMost / 2
  if (reading.length <= readingsAtMost) return { timeS, reading }
  const kept = { timeS: [] as number[], reading: [] as number[] }
  for (let slice = 0; slice < slices; slice++) {
    const start = Math.floor((slice * reading.length) / slices)
    const end = Math.floor(((slice + 1) * reading.length) / slices)
    let low = start
    let high = start
    for (let index = start; index < end; index++) {
      if (reading[index] < reading[low]) low = index
      if (reading[index] > reading[high]) high = index
    }
    for (const index of low === high ? [low] : [Math.min(low, high), Math.max(low, high)]) {
      kept.timeS.push(timeS[index])
      kept.reading.push(reading[index])
    }
  }
  return kept
}
