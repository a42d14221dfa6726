import { firstIndexAt } from '#analysis/signal/block-averages.ts'

/** Every how many samples the oldest are thinned to their smallest and largest, when the newest need the room. */
const thinning = 64

/**
 * One channel's samples of a running session in bounded memory: the newest in full, older ones as the smallest and
 * largest of each slice, so that a chart of the whole day loses no spike.
 */
export class ChannelColumns {
  readonly #recent: Columns
  readonly #past: Columns

  /** @param bound most samples kept in full */
  constructor(bound = 2 ** 18) {
    this.#recent = new Columns(bound)
    this.#past = new Columns(bound / 2)
  }

  append(timeS: number, reading: number): void {
    if (this.#recent.full) this.#past.takeThinned(this.#recent.dropOldestHalf(), thinning)
    this.#recent.append(timeS, reading)
  }

  get newest(): { timeS: number; reading: number } | null {
    return this.#recent.newest
  }

  /** Samples from a time on: views where possible, never to be written to. */
  since(fromS: number): { timeS: Float64Array; reading: Float64Array } {
    const recent = this.#recent.since(fromS)
    const past = this.#past.since(fromS)
    if (past.timeS.length === 0) return recent
    return { timeS: join(past.timeS, recent.timeS), reading: join(past.reading, recent.reading) }
  }
}

/** Two columns that grow by doubling up to a bound. */
class Columns {
  readonly #bound: number
  #timeS = new Float64Array(1024)
  #reading = new Float64Array(1024)
  #length = 0

  constructor(bound: number) {
    this.#bound = Math.max(4 * thinning, bound)
  }

  get full(): boolean {
    return this.#length >= this.#bound
  }

  get newest(): { timeS: number; reading: number } | null {
    const last = this.#length - 1
    return last < 0 ? null : { timeS: this.#timeS[last], reading: this.#reading[last] }
  }

  append(timeS: number, reading: number): void {
    if (this.#length === this.#timeS.length) {
      this.#timeS = join(this.#timeS, new Float64Array(this.#length))
      this.#reading = join(this.#reading, new Float64Array(this.#length))
    }
    this.#timeS[this.#length] = timeS
    this.#reading[this.#length] = reading
    this.#length++
  }

  since(fromS: number): { timeS: Float64Array; reading: Float64Array } {
    const timeS = this.#timeS.subarray(0, this.#length)
    const from = firstIndexAt(timeS, fromS)
    return { timeS: timeS.subarray(from), reading: this.#reading.subarray(from, this.#length) }
  }

  dropOldestHalf(): { timeS: Float64Array; reading: Float64Array } {
    const half = this.#length >> 1
    const dropped = { timeS: this.#timeS.slice(0, half), reading: this.#reading.slice(0, half) }
    this.#timeS.copyWithin(0, half, this.#length)
    this.#reading.copyWithin(0, half, this.#length)
    this.#length -= half
    return dropped
  }

  /** Appends the smallest and the largest sample of each slice, in the order of time. */
  takeThinned({ timeS, reading }: { timeS: Float64Array; reading: Float64Array }, slice: number): void {
    if (this.full) {
      // The slices of the past are pairs; merging eight of them keeps their extremes.
      const older = this.dropOldestHalf()
      const newer = this.dropAll()
      this.takeThinned(older, 16)
      for (let index = 0; index < newer.timeS.length; index++)
        this.append(newer.timeS[index], newer.reading[index])
    }
    for (let start = 0; start < timeS.length; start += slice) {
      const end = Math.min(timeS.length, start + slice)
      let low = start
      let high = start
      for (let index = start + 1; index < end; index++) {
        if (reading[index] < reading[low]) low = index
        if (reading[index] > reading[high]) high = index
      }
      for (const index of low === high ? [low] : [Math.min(low, high), Math.max(low, high)]) {
        this.append(timeS[index], reading[index])
      }
    }
  }

  dropAll(): { timeS: Float64Array; reading: Float64Array } {
    const all = { timeS: this.#timeS.slice(0, this.#length), reading: this.#reading.slice(0, this.#length) }
    this.#length = 0
    return all
  }
}

function join(first: Float64Array, second: Float64Array): Float64Array<ArrayBuffer> {
  const both = new Float64Array(first.length + second.length)
  both.set(first)
  both.set(second, first.length)
  return both
}
