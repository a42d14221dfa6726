import type { Reason } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { mean } from '#analysis/numeric/moments.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { blockTrend } from './block-trend.ts'
import { calibratedReadings } from './calibrated-readings.ts'
import { samplesOf } from './pressure-signal.ts'
import { sliceOf } from './sample-slice.ts'

/** A closed twin vessel beside a section, at the middles of a hold's blocks. */
export interface ReferenceVessel {
  readonly channel: string
  readonly absolutePa: Float64Array
  readonly meanPa: number
  /** ln of its absolute pressure over the mean: ln T of its closed gas. */
  readonly logPressure: Float64Array
  /** Remaining variance of `logPressure`. */
  readonly variance: Float64Array
  /** Change of `logPressure` over the hold below its gauge's resolution. */
  readonly unseen: number
}

/** The vessel, or why it is left out; both null and empty where the section has none. */
export interface ReferenceFinding {
  readonly vessel: ReferenceVessel | null
  readonly cautions: readonly Reason[]
}

/** The blocks of a hold and the atmosphere at their middles. */
export interface ReferenceView {
  readonly sections: readonly string[]
  readonly edges: Float64Array
  readonly kept: readonly number[]
  readonly middleS: Float64Array
  readonly hasThermometer: boolean
  readonly barometricPa: Float64Array | null
}

/** Fewest blocks with readings, as a share. */
const leastRead = 0.8

/** Reads the reference vessel of a section, if it has one. */
export function referenceVessel(recording: Recording, system: System, view: ReferenceView): ReferenceFinding {
  const channel = system.channels.find(
    (c) => c.measures === 'reference-pressure' && c.section !== null && view.sections.includes(c.section),
  )
  if (channel === undefined) return { vessel: null, cautions: [] }
  const { edges, kept, middleS, barometricPa } = view
  const samples = samplesOf(recording, channel)
  if (samples === null) return unread(channel)
  const readings = sliceOf(samples.timeS, samples.reading, edges[0], edges[edges.length - 1])
  if (readings.length === 0 || clips(readings, channel)) return unread(channel)
  const gauge = blockTrend(
    samples.timeS,
    calibratedReadings(channel, samples.reading),
    edges,
    kept,
    middleS,
    channel.resolutionSi,
    true,
  )
  const absolutePa = gauge.value.map((g, i) => g + (barometricPa?.[i] ?? standardAtmospherePa))
  if (gauge.known < leastRead * kept.length || !absolutePa.every((p) => p > 0)) return unread(channel)
  if (!view.hasThermometer) return leftOut('reference-vessel-alone', channel)
  const meanPa = mean(absolutePa)
  return {
    vessel: {
      channel: channel.id,
      absolutePa,
      meanPa,
      logPressure: absolutePa.map((p) => Math.log(p / meanPa)),
      variance: gauge.variance.map((v) => v / meanPa ** 2),
      unseen: gauge.unseen / meanPa,
    },
    cautions: [],
  }
}

function clips(readings: Float64Array, { rangeSi }: Channel): boolean {
  if (rangeSi === null) return false
  const [low, high] = rangeSi
  return readings.some((r) => r >= high || r < low)
}

function unread(channel: Channel): ReferenceFinding {
  return leftOut('reference-vessel-unread', channel)
}

function leftOut(
  code: 'reference-vessel-alone' | 'reference-vessel-unread',
  { id }: Channel,
): ReferenceFinding {
  return { vessel: null, cautions: [reason(code, { channel: id })] }
}
