import type { Mark } from '#analysis/model/samples.ts'
import { type Channel, isNamed, isSectionPressure, type System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import type { Alarm, LiveState, MinMaxColumns, SampleBatch } from '#dashboard/api.ts'
import { LiveBatch } from '#dashboard/server/stream/live-batch.ts'
import { typedMeasurement } from '#ingest/intake/dialects/dialect.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'
import { ChannelColumns } from './channel-columns.ts'
import type { SampleColumns } from './growing-recording.ts'
import { PressureAlarms } from './pressure-alarms.ts'
import type { SectionNow } from './pressure-loss.ts'
import { sliceColumns } from './slice-columns.ts'

/** Over this time a reading is told as its mean, lowest and highest, [s]. */
const latelyS = 5

/**
 * The channels of the running session: what they said, what the page and the looks have not seen yet, alarms.
 *
 * Samples are kept as read. Captures of zero are applied to what is shown; what is collected for the analysis goes
 * there as read, for it applies them itself.
 */
export class LiveChannels {
  readonly #channels: ReadonlyMap<string, Channel>
  readonly #columns: ReadonlyMap<string, ChannelColumns>
  readonly #arrivals: ReadonlyMap<string, Arrivals>
  readonly #alarms: ReadonlyMap<string, PressureAlarms>
  readonly #batch = new LiveBatch()
  /** Samples the analysis has not got yet; collected only while a hold runs. */
  #pending: Map<string, { timeS: number[]; reading: number[] }> | null = null
  #atmospherePa = standardAtmospherePa
  readonly #zeros = new LiveZeros()

  /** @param marks what was marked before, such as under an earlier text of the system file */
  constructor(system: System, marks: readonly Mark[] = []) {
    for (const mark of marks) this.#zeros.add(mark)
    this.#channels = new Map(system.channels.map((channel) => [channel.id, channel]))
    this.#arrivals = new Map(
      system.channels.map(({ id, from }) => [
        id,
        from.measurement === typedMeasurement ? new Arrivals(undefined, typedAfterS) : new Arrivals(),
      ]),
    )
    this.#columns = new Map(system.channels.map(({ id }) => [id, new ChannelColumns()]))
    this.#alarms = new Map(system.sections.map((section) => [section.id, new PressureAlarms(section)]))
  }

  sample(id: string, timeS: number, reading: number): void {
    const channel = this.#channels.get(id)
    if (!channel) return
    this.#arrivals.get(id)!.came()
    this.#columns.get(id)!.append(timeS, reading)
    this.#batch.add(id, timeS, reading)
    if (this.#pending) {
      let columns = this.#pending.get(id)
      if (!columns) {
        columns = { timeS: [], reading: [] }
        this.#pending.set(id, columns)
      }
      columns.timeS.push(timeS)
      columns.reading.push(reading)
    }
    if (channel.measures === 'barometric-pressure') this.#atmospherePa = trueReading(channel, reading)
    const gaugePa = this.#gauge(channel, reading)
    if (gaugePa === null || !channel.section) return
    const zeroedPa = this.#gauge(channel, this.#zeros.one(channel, timeS, reading))!
    // A zero taken under pressure would hide as much of it as it took off: the larger of both calls.
    this.#alarms
      .get(channel.section)
      ?.update(timeS, Math.abs(zeroedPa) > Math.abs(gaugePa) ? zeroedPa : gaugePa)
  }

  /** A mark was made: a capture of zero counts from its time on. */
  marked(mark: Mark): void {
    this.#zeros.add(mark)
  }

  /** Begins to collect for the analysis, with what came from `fromS` on. */
  collectFrom(fromS: number): Record<string, SampleColumns> {
    this.#pending = new Map()
    return Object.fromEntries(
      [...this.#columns].map(([id, columns]) => {
        const { timeS, reading } = columns.since(fromS)
        return [id, { timeS: timeS.slice(), reading: reading.slice() }]
      }),
    )
  }

  /** What came since the last call; null when nothing did or nothing is collected. */
  takeCollected(): Record<string, SampleColumns> | null {
    if (!this.#pending || this.#pending.size === 0) return null
    const taken = Object.fromEntries(
      [...this.#pending].map(([id, { timeS, reading }]) => [
        id,
        { timeS: Float64Array.from(timeS), reading: Float64Array.from(reading) },
      ]),
    )
    this.#pending = new Map()
    return taken
  }

  stopCollecting(): void {
    this.#pending = null
  }

  takeBatch(): SampleBatch | null {
    const batch = this.#batch.take()
    if (batch === null) return null
    const channels = Object.entries(batch.channels).map(([id, columns]) => {
      const channel = this.#channels.get(id)!
      if (!this.#zeros.has(channel)) return [id, columns] as const
      const reading = Array.from(this.#zeros.applied(channel, columns.timeS, columns.reading))
      return [id, { timeS: columns.timeS, reading }] as const
    })
    return { channels: Object.fromEntries(channels) }
  }

  newest(): LiveState['newest'] {
    return Object.fromEntries(
      [...this.#columns].flatMap(([id, columns]) => {
        const { newest } = columns
        if (newest === null) return []
        const { timeS, reading } = newest
        const shown = this.#zeros.one(this.#channels.get(id)!, timeS, reading)
        const { quietS } = this.#arrivals.get(id)!
        return [
          [id, { timeS, reading: shown, quietS, lately: lately(columns.since(timeS - latelyS).reading) }],
        ]
      }),
    )
  }

  /** Where each measured section among those given stands now; nothing before its first reading. */
  standing(sections: readonly string[]): SectionNow[] {
    return sections.flatMap((section) => {
      const channel = this.#pressureOf(section)
      const newest = channel && this.#columns.get(channel.id)!.newest
      if (!newest) return []
      const gaugePa = this.#gauge(channel, this.#zeros.one(channel, newest.timeS, newest.reading))!
      const thermometer = [...this.#channels.values()].find(
        (one) => one.section === section && one.measures === 'temperature',
      )
      const temperatureK = thermometer ? (this.#columns.get(thermometer.id)!.newest?.reading ?? null) : null
      const absolutePa = gaugePa + this.#atmospherePa
      return [{ section, timeS: newest.timeS, gaugePa, absolutePa, temperatureK }]
    })
  }

  /** Gauge pressure of one section from a time on; null when it is not measured. */
  gaugeSince(section: string, fromS: number): { timeS: Float64Array; gaugePa: Float64Array } | null {
    const channel = this.#pressureOf(section)
    if (!channel) return null
    const { timeS, reading } = this.#columns.get(channel.id)!.since(fromS)
    const shown = this.#zeros.has(channel) ? this.#zeros.applied(channel, timeS, reading) : reading
    return { timeS, gaugePa: shown.map((each) => this.#gauge(channel, each) ?? Number.NaN) }
  }

  alarms(): Alarm[] {
    return [...this.#alarms.values()].flatMap((watch) => watch.alarms())
  }

  minMax(fromS: number, points: number): MinMaxColumns[] {
    return [...this.#columns].map(([id, columns]) => {
      const channel = this.#channels.get(id)!
      const { timeS, reading } = columns.since(fromS)
      const shown = this.#zeros.has(channel) ? this.#zeros.applied(channel, timeS, reading) : reading
      return sliceColumns({ channel: id, timeS, reading: shown }, fromS, Number.POSITIVE_INFINITY, points)
    })
  }

  #pressureOf(section: string): Channel | undefined {
    const measured = [...this.#channels.values()].filter(
      (channel) => channel.section === section && isSectionPressure(channel.measures),
    )
    return measured.find(({ id }) => this.#columns.get(id)!.newest !== null) ?? measured[0]
  }

  #gauge(channel: Channel, reading: number): number | null {
    if (!isSectionPressure(channel.measures)) return null
    const pressurePa = trueReading(channel, reading)
    return channel.measures === 'gauge-pressure' ? pressurePa : pressurePa - this.#atmospherePa
  }
}

function lately(reading: Float64Array): { asRead: number; low: number; high: number } {
  let sum = 0
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let index = 0; index < reading.length; index++) {
    const each = reading[index]
    sum += each
    if (each < low) low = each
    if (each > high) high = each
  }
  return { asRead: sum / reading.length, low, high }
}

function trueReading(channel: Channel, reading: number): number {
  return channel.calibration ? calibratedReadings(channel, Float64Array.of(reading))[0] : reading
}

/** A channel that gave no reading for so long is quiet, [s] of our own time. */
const quietAfterS = 3
/** Who reads by eye takes a reading in some minutes. */
const typedAfterS = 300
/** Or for so many of its usual pauses: a barometer that is read once in 10 s is not quiet in between. */
const quietAfterPauses = 2.5
/** Readings that come closer than this belong to one batch, [s]. */
const batchS = 0.05

/** When a channel's readings came, by the monotonic clock: how long it has been quiet. */
export class Arrivals {
  readonly #nowMs: () => number
  readonly #afterS: number
  #lastMs: number | null = null
  #pausesS: number[] = []

  constructor(nowMs: () => number = () => performance.now(), afterS = quietAfterS) {
    this.#nowMs = nowMs
    this.#afterS = afterS
  }

  came(): void {
    const nowMs = this.#nowMs()
    const pauseS = this.#lastMs === null ? 0 : (nowMs - this.#lastMs) / 1000
    this.#lastMs = nowMs
    // Of three pauses the middle one: one long silence does not become its usual pause.
    if (pauseS > batchS) this.#pausesS = [...this.#pausesS.slice(-2), pauseS]
  }

  /** How long nothing came, [s]; null while readings come as usual, or none has come. */
  get quietS(): number | null {
    if (this.#lastMs === null) return null
    const quietS = (this.#nowMs() - this.#lastMs) / 1000
    const usualS = this.#pausesS.length < 3 ? 0 : [...this.#pausesS].sort((a, b) => a - b)[1]
    return quietS > Math.max(this.#afterS, quietAfterPauses * usualS) ? quietS : null
  }
}

/** More than any session has; a stream of marks from a broken logger must not fill the memory. */
const keptAtMost = 2000

/** Captures of zero and span on live readings: the very rule by which a recording is read, not a second one. */
export class LiveZeros {
  /** Captures, and the stages that tell whether one fell into a hold. */
  readonly #marks: Mark[] = []
  readonly #captured = new Set<string>()

  add(mark: Mark): void {
    if (mark.kind !== 'zero' && mark.kind !== 'stage') return
    // Of stages on end only the last tells whether the capture after it falls into a hold.
    if (mark.kind === 'stage' && this.#marks.at(-1)?.kind === 'stage') this.#marks.pop()
    this.#marks.push(mark)
    if (this.#marks.length > keptAtMost) this.#marks.splice(0, keptAtMost / 2)
    if (mark.kind === 'zero' && mark.id !== null) this.#captured.add(mark.id)
  }

  has(channel: Channel): boolean {
    return [...this.#captured].some((id) => isNamed(channel, id))
  }

  /** Readings with the captures applied; the given ones are left as they are. */
  applied(channel: Channel, timeS: ArrayLike<number>, reading: ArrayLike<number>): Float64Array {
    const values = Float64Array.from(reading)
    if (this.has(channel)) applyZeroMarks(channel, { timeS: Float64Array.from(timeS), values }, this.#marks)
    return values
  }

  one(channel: Channel, timeS: number, reading: number): number {
    return this.has(channel) ? this.applied(channel, [timeS], [reading])[0] : reading
  }
}
