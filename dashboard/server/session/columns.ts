import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import type { MinMaxColumns } from '#dashboard/api.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'
import { minMaxColumns } from '#ingest/recording/min-max-columns.ts'

/** Readings of one channel and their times. */
export interface SampleColumns {
  readonly timeS: Float64Array
  readonly reading: Float64Array
}

/** Two columns that grow by doubling. */
class Columns {
  #timeS = new Float64Array(1)
  #reading = new Float64Array(1)
  length = 0

  append(timeS: number, reading: number): void {
    if (this.length === this.#timeS.length) {
      this.#timeS = join(this.#timeS, new Float64Array(this.length))
      this.#reading = join(this.#reading, new Float64Array(this.length))
    }
    this.#timeS[this.length] = timeS
    this.#reading[this.length] = reading
    this.length++
  }

  get newest(): { timeS: number; reading: number } | null {
    const last = this.length - 1
    return last < 0 ? null : { timeS: this.#timeS[last], reading: this.#reading[last] }
  }

  /** Views from an index on; read-only. */
  from(index: number): SampleColumns {
    return {
      timeS: this.#timeS.subarray(index, this.length),
      reading: this.#reading.subarray(index, this.length),
    }
  }

  since(fromS: number): SampleColumns {
    return this.from(firstIndexAt(this.#timeS.subarray(0, this.length), fromS))
  }

  dropOldest(count: number): SampleColumns {
    const dropped = { timeS: this.#timeS.slice(0, count), reading: this.#reading.slice(0, count) }
    this.#timeS.copyWithin(0, count, this.length)
    this.#reading.copyWithin(0, count, this.length)
    this.length -= count
    return dropped
  }
}

/** The smallest and the largest sample of each block, in time order. */
export function extremes({ timeS, reading }: SampleColumns, slice: number): SampleColumns {
  const kept: number[] = []
  for (let start = 0; start < timeS.length; start += slice) {
    const end = Math.min(timeS.length, start + slice)
    let low = start
    let high = start
    for (let index = start + 1; index < end; index++) {
      if (reading[index] < reading[low]) low = index
      if (reading[index] > reading[high]) high = index
    }
    kept.push(...(low === high ? [low] : [Math.min(low, high), Math.max(low, high)]))
  }
  return {
    timeS: Float64Array.from(kept, (index) => timeS[index]),
    reading: Float64Array.from(kept, (index) => reading[index]),
  }
}

/** When full, the oldest samples are thinned in blocks of this size to their smallest and largest. */
const thinning = 64

/**
 * One channel's samples of a running session in bounded memory: the newest in full, older ones as the minimum and
 * maximum of each slice, so that a chart of the whole day loses no spike.
 */
export class ChannelColumns {
  readonly #bound: number
  readonly #recent = new Columns()
  readonly #past = new Columns()
  /** Samples received, kept or not. */
  count = 0

  /** @param bound maximum number of samples kept in full */
  constructor(bound = 2 ** 18) {
    this.#bound = bound
  }

  append(timeS: number, reading: number): void {
    if (this.#recent.length >= this.#bound) {
      if (this.#past.length >= this.#bound / 2) {
        // Older slices are pairs; merging eight of them keeps their extremes.
        const older = this.#past.dropOldest(this.#past.length >> 1)
        const newer = this.#past.dropOldest(this.#past.length)
        this.#keep(extremes(older, 16))
        this.#keep(newer)
      }
      this.#keep(extremes(this.#recent.dropOldest(this.#recent.length >> 1), thinning))
    }
    this.#recent.append(timeS, reading)
    this.count++
  }

  get newest(): { timeS: number; reading: number } | null {
    return this.#recent.newest
  }

  /** Samples from a time on: views where possible, read-only. */
  since(fromS: number): SampleColumns {
    const recent = this.#recent.since(fromS)
    const past = this.#past.since(fromS)
    if (past.timeS.length === 0) return recent
    return { timeS: join(past.timeS, recent.timeS), reading: join(past.reading, recent.reading) }
  }

  /** Views of the samples after an index, as far as they are kept in full. */
  after(count: number): SampleColumns {
    return this.#recent.from(Math.max(0, this.#recent.length - (this.count - count)))
  }

  #keep({ timeS, reading }: SampleColumns): void {
    for (let index = 0; index < timeS.length; index++) this.#past.append(timeS[index], reading[index])
  }
}

function join(first: Float64Array, second: Float64Array): Float64Array<ArrayBuffer> {
  const both = new Float64Array(first.length + second.length)
  both.set(first)
  both.set(second, first.length)
  return both
}

/** A channel between two times, as the extremes of at most `points` slices. */
export function sliceColumns(
  { channel, timeS, reading }: ChannelSamples,
  fromS: number,
  toS: number,
  points: number,
): MinMaxColumns {
  const first = firstIndexAt(timeS, fromS)
  const last = firstIndexAt(timeS, toS + 1e-9)
  const slices = minMaxColumns(timeS.subarray(first, last), reading.subarray(first, last), points)
  const [times, low, high] = [slices.timeS, slices.low, slices.high].map((column) => Array.from(column))
  return { channel, timeS: times, low, high }
}

/**
 * Longer channels are averaged in pairs, evenly over the whole hold, so that memory and time of a look
 * stay bounded. Seven hours at 10 Hz, four minutes at 1 kHz.
 */
export const readingsAtMost = 2 ** 18

/** The recording of a running hold so far, for interim analysis before it is sealed. */
export class GrowingRecording {
  readonly system: System
  readonly #name: string
  readonly #startNs: string
  readonly #channels = new Map<string, AveragedColumns>()

  constructor(system: System, name: string, startNs: string) {
    this.system = system
    this.#name = name
    this.#startNs = startNs
  }

  append(channels: Readonly<Record<string, SampleColumns>>): void {
    for (const [id, columns] of Object.entries(channels)) {
      const own = this.#channels.get(id) ?? new AveragedColumns()
      this.#channels.set(id, own)
      own.append(columns)
    }
  }

  recording(marks: readonly Mark[]): Recording {
    return {
      name: this.#name,
      startNs: this.#startNs,
      channels: [...this.#channels].map(([id, { means }]) =>
        this.#zeroed({ channel: id, ...means.from(0) }, marks),
      ),
      marks,
      rejectedLines: 0,
      missingSequence: 0,
    }
  }

  /** Captures of zero and span apply here as when the recording is read. */
  #zeroed(samples: ChannelSamples, marks: readonly Mark[]): ChannelSamples {
    const channel = this.system.channels.find(({ id }) => id === samples.channel)
    if (!channel || !marks.some(({ kind, id }) => kind === 'zero' && id === channel.id)) return samples
    const { timeS } = samples
    const values = samples.reading.slice()
    applyZeroMarks(channel, { timeS, values }, marks)
    return { channel: channel.id, timeS, reading: values }
  }
}

class AveragedColumns {
  readonly means = new Columns()
  /** Readings averaged into one, and those collected for the next one. */
  #averaged = 1
  #count = 0
  #sumTimeS = 0
  #sumReading = 0

  append({ timeS, reading }: SampleColumns): void {
    for (let index = 0; index < timeS.length; index++) {
      this.#sumTimeS += timeS[index]
      this.#sumReading += reading[index]
      if (++this.#count < this.#averaged) continue
      this.means.append(this.#sumTimeS / this.#count, this.#sumReading / this.#count)
      this.#count = 0
      this.#sumTimeS = 0
      this.#sumReading = 0
      if (this.means.length === readingsAtMost) this.#averagePairs()
    }
  }

  #averagePairs(): void {
    const { timeS, reading } = this.means.dropOldest(this.means.length)
    for (let index = 0; index + 1 < timeS.length; index += 2)
      this.means.append((timeS[index] + timeS[index + 1]) / 2, (reading[index] + reading[index + 1]) / 2)
    this.#averaged *= 2
  }
}
