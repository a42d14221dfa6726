import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'

/** Columns of one channel on their way from the session to the analysis. */
export interface SampleColumns {
  readonly timeS: Float64Array
  readonly reading: Float64Array
}

/**
 * A channel with more readings than this has them averaged, two by two and evenly over all of the hold: memory and time
 * of a look stay bounded. Seven hours at 10 Hz, four minutes at 1 kHz.
 */
export const readingsAtMost = 2 ** 18

/** The recording of a running hold as far as it has come, for looks at it before it is sealed. */
export class GrowingRecording {
  readonly system: System
  readonly #name: string
  readonly #startNs: string
  readonly #channels = new Map<string, GrowingColumns>()
  #marks: readonly Mark[] = []

  constructor(system: System, name: string, startNs: string) {
    this.system = system
    this.#name = name
    this.#startNs = startNs
  }

  append(channels: Readonly<Record<string, SampleColumns>>): void {
    for (const [id, columns] of Object.entries(channels)) {
      let own = this.#channels.get(id)
      if (!own) {
        own = new GrowingColumns()
        this.#channels.set(id, own)
      }
      own.append(columns)
    }
  }

  setMarks(marks: readonly Mark[]): void {
    this.#marks = marks
  }

  recording(): Recording {
    return {
      name: this.#name,
      startNs: this.#startNs,
      channels: [...this.#channels].map(([id, columns]) => this.#zeroed(columns.samples(id))),
      marks: this.#marks,
      rejectedLines: 0,
      missingSequence: 0,
    }
  }

  /** Captures of zero and span count here as they will when the recording is read. */
  #zeroed(samples: ChannelSamples): ChannelSamples {
    const channel = this.system.channels.find(({ id }) => id === samples.channel)
    if (!channel || !this.#marks.some(({ kind, id }) => kind === 'zero' && id === channel.id)) return samples
    const { timeS } = samples
    const values = samples.reading.slice()
    applyZeroMarks(channel, { timeS, values }, this.#marks)
    return { channel: channel.id, timeS, reading: values }
  }
}

class GrowingColumns {
  #timeS = new Float64Array(4096)
  #reading = new Float64Array(4096)
  #length = 0
  /** So many readings are averaged into one; those that came of the next one. */
  #averaged = 1
  #count = 0
  #sumTimeS = 0
  #sumReading = 0

  append({ timeS, reading }: SampleColumns): void {
    for (let index = 0; index < timeS.length; index++) {
      this.#sumTimeS += timeS[index]
      this.#sumReading += reading[index]
      if (++this.#count < this.#averaged) continue
      this.#push(this.#sumTimeS / this.#count, this.#sumReading / this.#count)
      this.#count = 0
      this.#sumTimeS = 0
      this.#sumReading = 0
    }
  }

  /** Views of the columns: never to be written to. */
  samples(channel: string): ChannelSamples {
    return {
      channel,
      timeS: this.#timeS.subarray(0, this.#length),
      reading: this.#reading.subarray(0, this.#length),
    }
  }

  #push(timeS: number, reading: number): void {
    if (this.#length === this.#timeS.length) {
      this.#timeS = grown(this.#timeS)
      this.#reading = grown(this.#reading)
    }
    this.#timeS[this.#length] = timeS
    this.#reading[this.#length] = reading
    if (++this.#length === readingsAtMost) this.#averagePairs()
  }

  #averagePairs(): void {
    const pairs = this.#length >> 1
    for (let pair = 0; pair < pairs; pair++) {
      this.#timeS[pair] = (this.#timeS[2 * pair] + this.#timeS[2 * pair + 1]) / 2
      this.#reading[pair] = (this.#reading[2 * pair] + this.#reading[2 * pair + 1]) / 2
    }
    this.#length = pairs
    this.#averaged *= 2
  }
}

function grown(column: Float64Array<ArrayBuffer>): Float64Array<ArrayBuffer> {
  const larger = new Float64Array(2 * column.length)
  larger.set(column)
  return larger
}
