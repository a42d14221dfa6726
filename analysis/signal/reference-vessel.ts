import type { Recording } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { mean } from '#analysis/numeric/moments.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { blockTrend, type HoldBlocks } from './block-trend.ts'
import { calibratedReadings } from './calibrated-readings.ts'
import { sliceOf } from './column-spans.ts'
import { samplesOf } from './pressure-signal.ts'

/** Fewest blocks with readings, as a share. */
const leastRead = 0.8

/**
 * The reference vessel of a section, or why it is left out; null without a caution where it has none.
 *
 * @param barometricPa atmosphere at the middles of the blocks
 */
export function referenceVessel(
  recording: Recording,
  system: System,
  sections: readonly string[],
  blocks: HoldBlocks,
  hasThermometer: boolean,
  barometricPa: Float64Array | null,
) {
  const channel = system.channels.find(
    (c) => c.measures === 'reference-pressure' && c.section !== null && sections.includes(c.section),
  )
  if (channel === undefined) return { vessel: null, cautions: [] }
  const { edges, kept } = blocks
  const samples = samplesOf(recording, channel)
  if (samples === null) return leftOut('reference-vessel-unread', channel)
  const readings = sliceOf(samples.timeS, samples.reading, edges[0], edges[edges.length - 1])
  if (readings.length === 0 || clips(readings, channel)) return leftOut('reference-vessel-unread', channel)
  const reading = calibratedReadings(channel, samples.reading)
  const gauge = blockTrend(samples.timeS, reading, blocks, channel.resolutionSi, true)
  const absolutePa = gauge.value.map((g, i) => g + (barometricPa?.[i] ?? standardAtmospherePa))
  if (gauge.known < leastRead * kept.length || !absolutePa.every((p) => p > 0))
    return leftOut('reference-vessel-unread', channel)
  if (!hasThermometer) return leftOut('reference-vessel-alone', channel)
  const meanPa = mean(absolutePa)
  return {
    vessel: {
      channel: channel.id,
      absolutePa,
      meanPa,
      /** ln of its absolute pressure over the mean: ln T of its closed gas. */
      logPressure: absolutePa.map((p) => Math.log(p / meanPa)),
      variance: gauge.variance.map((v) => v / meanPa ** 2),
      /** Change of `logPressure` over the hold below its gauge's resolution. */
      unseen: gauge.unseen / meanPa,
    },
    cautions: [],
  }
}

/** A closed twin vessel beside a section, at the middles of a hold's blocks. */
export type ReferenceVessel = Readonly<NonNullable<ReturnType<typeof referenceVessel>['vessel']>>

function clips(readings: Float64Array, { rangeSi }: Channel): boolean {
  if (rangeSi === null) return false
  const [low, high] = rangeSi
  return readings.some((r) => r >= high || r < low)
}

function leftOut(code: 'reference-vessel-alone' | 'reference-vessel-unread', { id }: Channel) {
  return { vessel: null, cautions: [reason(code, { channel: id })] }
}
