import type { Mark } from '#analysis/model/samples.ts'
import { type Channel, isNamed, isSectionPressure, type System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import type { Alarm, LiveState, MinMaxColumns, SampleBatch } from '#dashboard/api.ts'
import { typedMeasurement } from '#ingest/intake/dialects/dialect.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'
import { ChannelColumns, extremes, type SampleColumns, sliceColumns } from './columns.ts'
import { PressureAlarms, type SectionNow } from './pressure-watch.ts'

/** Window for the mean, lowest and highest of a reading, [s]. */
const latelyS = 5
/** Maximum readings of one channel in one batch to the page: a fast logger is reduced to the extremes of each slice. */
const batchAtMost = 20

interface LiveChannel {
  readonly channel: Channel
  readonly columns: ChannelColumns
  readonly arrivals: Arrivals
  /** Samples already sent to the page, and to the analysis. */
  shown: number
  collected: number
}

/**
 * The channels of the running session: readings, data not yet sent to the page and the analysis, alarms.
 *
 * Samples are kept as read. Captures of zero are applied for display; the analysis gets samples
 * as read, because it applies the captures itself.
 */
export class LiveChannels {
  readonly #channels: ReadonlyMap<string, LiveChannel>
  readonly #alarms: ReadonlyMap<string, PressureAlarms>
  /** While a hold runs, new samples are collected for the analysis. */
  #isCollecting = false
  #atmospherePa = standardAtmospherePa
  readonly #zeros = new LiveZeros()

  /** @param marks earlier marks, such as those under an earlier text of the system file */
  constructor(system: Pick<System, 'channels' | 'sections'>, marks: readonly Mark[] = []) {
    for (const mark of marks) this.#zeros.add(mark)
    this.#channels = new Map(
      system.channels.map((channel) => {
        const isTyped = channel.from.measurement === typedMeasurement
        const arrivals = new Arrivals(undefined, isTyped ? typedAfterS : quietAfterS)
        return [channel.id, { channel, columns: new ChannelColumns(), arrivals, shown: 0, collected: 0 }]
      }),
    )
    this.#alarms = new Map(system.sections.map((section) => [section.id, new PressureAlarms(section)]))
  }

  sample(id: string, timeS: number, reading: number): void {
    const live = this.#channels.get(id)
    if (!live) return
    const { channel, columns, arrivals } = live
    arrivals.came()
    columns.append(timeS, reading)
    if (channel.measures === 'barometric-pressure') this.#atmospherePa = trueReading(channel, reading)
    const gaugePa = this.#gauge(channel, reading)
    if (gaugePa === null || !channel.section) return
    const zeroedPa = this.#gauge(channel, this.#zeros.one(channel, timeS, reading))!
    // A zero captured under pressure would hide that pressure: take the larger of both.
    this.#alarms
      .get(channel.section)
      ?.update(timeS, Math.abs(zeroedPa) > Math.abs(gaugePa) ? zeroedPa : gaugePa)
  }

  /** A new mark: a capture of zero applies from its time on. */
  marked(mark: Mark): void {
    this.#zeros.add(mark)
  }

  /** Begins to collect for the analysis, starting with samples from `fromS` on. */
  collectFrom(fromS: number): Record<string, SampleColumns> {
    this.#isCollecting = true
    for (const live of this.#channels.values()) live.collected = live.columns.count
    return Object.fromEntries(
      [...this.#channels].map(([id, { columns }]) => [id, copyOf(columns.since(fromS))]),
    )
  }

  /** Samples since the last call; null when there are none or nothing is collected. */
  takeCollected(): Record<string, SampleColumns> | null {
    const more = [...this.#channels].filter(([, { columns, collected }]) => columns.count > collected)
    if (!this.#isCollecting || more.length === 0) return null
    const taken = more.map(([id, live]) => {
      const columns = copyOf(live.columns.after(live.collected))
      live.collected = live.columns.count
      return [id, columns] as const
    })
    return Object.fromEntries(taken)
  }

  stopCollecting(): void {
    this.#isCollecting = false
  }

  /** Samples not yet sent to the page; null when there are none. */
  takeBatch(): SampleBatch | null {
    const more = [...this.#channels].filter(([, { columns, shown }]) => columns.count > shown)
    if (more.length === 0) return null
    const channels = more.map(([id, live]) => {
      const all = live.columns.after(live.shown)
      live.shown = live.columns.count
      const few =
        all.timeS.length <= batchAtMost ? all : extremes(all, Math.ceil((2 * all.timeS.length) / batchAtMost))
      const { timeS, reading } = this.#zeros.applied(live.channel, few)
      return [id, { timeS: Array.from(timeS), reading: Array.from(reading) }] as const
    })
    return { channels: Object.fromEntries(channels) }
  }

  newest(): LiveState['newest'] {
    return Object.fromEntries(
      [...this.#channels].flatMap(
        ([
          id,
          {
            channel,
            columns,
            arrivals: { quietS },
          },
        ]) => {
          if (columns.newest === null) return []
          const { timeS, reading } = columns.newest
          const shown = this.#zeros.one(channel, timeS, reading)
          return [
            [id, { timeS, reading: shown, quietS, lately: lately(columns.since(timeS - latelyS).reading) }],
          ]
        },
      ),
    )
  }

  /** Current pressure of each measured section among those given; omitted before its first reading. */
  standing(sections: readonly string[]): SectionNow[] {
    return sections.flatMap((section) => {
      const live = this.#pressureOf(section)
      const newest = live?.columns.newest
      if (!live || !newest) return []
      const gaugePa = this.#gauge(live.channel, this.#zeros.one(live.channel, newest.timeS, newest.reading))!
      const thermometer = [...this.#channels.values()].find(
        ({ channel }) => channel.section === section && channel.measures === 'temperature',
      )
      const temperatureK = thermometer?.columns.newest?.reading ?? null
      const absolutePa = gaugePa + this.#atmospherePa
      return [{ section, timeS: newest.timeS, gaugePa, absolutePa, temperatureK }]
    })
  }

  /** Gauge pressure of one section from a time on; null when it is not measured. */
  gaugeSince(section: string, fromS: number): { timeS: Float64Array; gaugePa: Float64Array } | null {
    const live = this.#pressureOf(section)
    if (!live) return null
    const { timeS, reading } = this.#zeros.applied(live.channel, live.columns.since(fromS))
    return { timeS, gaugePa: reading.map((each) => this.#gauge(live.channel, each) ?? Number.NaN) }
  }

  alarms(): Alarm[] {
    return [...this.#alarms.values()].flatMap((watch) => watch.alarms())
  }

  minMax(fromS: number, points: number): MinMaxColumns[] {
    return [...this.#channels].map(([id, { channel, columns }]) => {
      const shown = this.#zeros.applied(channel, columns.since(fromS))
      return sliceColumns({ channel: id, ...shown }, fromS, Number.POSITIVE_INFINITY, points)
    })
  }

  #pressureOf(section: string): LiveChannel | undefined {
    const measured = [...this.#channels.values()].filter(
      ({ channel }) => channel.section === section && isSectionPressure(channel.measures),
    )
    return measured.find(({ columns }) => columns.newest !== null) ?? measured[0]
  }

  #gauge(channel: Channel, reading: number): number | null {
    if (!isSectionPressure(channel.measures)) return null
    const pressurePa = trueReading(channel, reading)
    return channel.measures === 'gauge-pressure' ? pressurePa : pressurePa - this.#atmospherePa
  }
}

const copyOf = ({ timeS, reading }: SampleColumns): SampleColumns => ({
  timeS: timeS.slice(),
  reading: reading.slice(),
})

function lately(reading: Float64Array): { asRead: number; low: number; high: number } {
  let sum = 0
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const each of reading) {
    sum += each
    if (each < low) low = each
    if (each > high) high = each
  }
  return { asRead: sum / reading.length, low, high }
}

function trueReading(channel: Channel, reading: number): number {
  return channel.calibration ? (calibratedReadings(channel, Float64Array.of(reading))[0] ?? reading) : reading
}

/** Time without a reading after which a channel is quiet, [s] of real time. */
const quietAfterS = 3
/** Readings by eye come every few minutes. */
const typedAfterS = 300
/** Or this many typical intervals: a barometer read every 10 s is not quiet in between. */
const quietAfterPauses = 2.5
/** Readings closer together than this belong to one batch, [s]. */
const batchS = 0.05

/** Arrival times of a channel's readings by the monotonic clock, to detect silence. */
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
    // Median of three intervals: one long silence does not become the typical interval.
    if (pauseS > batchS) this.#pausesS = [...this.#pausesS.slice(-2), pauseS]
  }

  /** Time without readings, [s]; null while readings arrive as usual, or before the first. */
  get quietS(): number | null {
    if (this.#lastMs === null) return null
    const quietS = (this.#nowMs() - this.#lastMs) / 1000
    const [, middleS = 0, longestS] = [...this.#pausesS].sort((a, b) => a - b)
    const usualS = longestS === undefined ? 0 : middleS
    return quietS > Math.max(this.#afterS, quietAfterPauses * usualS) ? quietS : null
  }
}

/** Above any real session; bounds the memory against a broken logger that sends endless marks. */
const keptAtMost = 2000

/** Captures of zero and span on live readings, by the same rule that reads a recording. */
export class LiveZeros {
  /** Captures, and the stages that show whether one fell into a hold. */
  readonly #marks: Mark[] = []
  readonly #captured = new Set<string>()

  add(mark: Mark): void {
    if (mark.kind !== 'zero' && mark.kind !== 'stage') return
    // Of consecutive stages only the last shows whether the next capture falls into a hold.
    if (mark.kind === 'stage' && this.#marks.at(-1)?.kind === 'stage') this.#marks.pop()
    this.#marks.push(mark)
    if (this.#marks.length > keptAtMost) this.#marks.splice(0, keptAtMost / 2)
    if (mark.kind === 'zero' && mark.id !== null) this.#captured.add(mark.id)
  }

  #has(channel: Channel): boolean {
    return [...this.#captured].some((id) => isNamed(channel, id))
  }

  /** Readings with the captures applied; the input is unchanged. */
  applied(channel: Channel, { timeS, reading }: SampleColumns): SampleColumns {
    if (!this.#has(channel)) return { timeS, reading }
    const values = reading.slice()
    applyZeroMarks(channel, { timeS, values }, this.#marks)
    return { timeS, reading: values }
  }

  one(channel: Channel, timeS: number, reading: number): number {
    if (!this.#has(channel)) return reading
    const [applied = reading] = this.applied(channel, {
      timeS: Float64Array.of(timeS),
      reading: Float64Array.of(reading),
    }).reading
    return applied
  }
}
