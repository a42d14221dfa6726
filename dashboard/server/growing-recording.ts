import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'

/** Columns of one channel on their way from the session to the analysis. */
export interface SampleColumns {
  readonly timeS: Float64Array
  readonly reading: Float64Array
}

/** A channel with more samples than this is averaged by pairs: memory and time of a look stay bounded. */
const samplesAtMost = 2 ** 20

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
    if (channel) applyZeroMarks(channel, { timeS: samples.timeS, values: samples.reading }, this.#marks)
    return samples
  }
}

class GrowingColumns {
  #timeS = new Float64Array(4096)
  #reading = new Float64Array(4096)
  #length = 0

  append({ timeS, reading }: SampleColumns): void {
    if (this.#length + timeS.length > samplesAtMost) this.#averagePairs()
    const needed = this.#length + timeS.length
    if (needed > this.#timeS.length) {
      const size = Math.max(needed, 2 * this.#timeS.length)
      this.#timeS = grown(this.#timeS, size)
      this.#reading = grown(this.#reading, size)
    }
    this.#timeS.set(timeS, this.#length)
    this.#reading.set(reading, this.#length)
    this.#length = needed
  }

  samples(channel: string): ChannelSamples {
    return {
      channel,
      timeS: this.#timeS.slice(0, this.#length),
      reading: this.#reading.slice(0, this.#length),
    }
  }

  #averagePairs(): void {
    const pairs = this.#length >> 1
    for (let pair = 0; pair < pairs; pair++) {
      this.#timeS[pair] = (this.#timeS[2 * pair] + this.#timeS[2 * pair + 1]) / 2
      this.#reading[pair] = (this.#reading[2 * pair] + this.#reading[2 * pair + 1]) / 2
    }
    this.#length = pairs
  }
}

function grown(column: Float64Array<ArrayBuffer>, size: number): Float64Array<ArrayBuffer> {
  const larger = new Float64Array(size)
  larger.set(column)
  return larger
}
