import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { blockTrend, type HoldBlocks } from './block-trend.ts'
import { calibratedReadings } from './calibrated-readings.ts'
import { sampledChannels } from './pressure-signal.ts'

/** Temperatures outside this are a sensor's error codes (−127 °C, 85 °C at start excepted) and not air temperatures, [K]. */
const coldestK = 273.15 - 55
const hottestK = 273.15 + 84

/** A thermometer's plausible samples. */
export interface Kelvins {
  readonly timeS: Float64Array
  readonly kelvin: Float64Array
}

export function isAirTemperature(kelvin: number): boolean {
  return kelvin > coldestK && kelvin < hottestK
}

/** The readings without implausible ones; the same column where all are plausible, since a day's column is large. */
function airTemperatures(kelvin: Float64Array): Float64Array {
  return kelvin.every(isAirTemperature) ? kelvin : kelvin.map((t) => (isAirTemperature(t) ? t : Number.NaN))
}

/** Mean of the thermometers of a section at the middles of a hold's blocks; null without one that has enough readings. */
export function sectionTemperature(
  recording: Recording,
  system: System,
  sections: readonly string[],
  blocks: HoldBlocks,
) {
  const thermometers = sampledChannels(recording, system, ['temperature'], sections)
  const trends = thermometers.flatMap(({ channel, samples: { timeS, reading } }) => {
    const kelvin = airTemperatures(calibratedReadings(channel, reading))
    const trend = blockTrend(timeS, kelvin, blocks, channel.resolutionSi, true)
    return trend.known >= Math.max(4, 0.3 * blocks.kept.length)
      ? [{ ...trend, samples: { timeS, kelvin } }]
      : []
  })
  if (trends.length === 0) return null
  // If one of several has no reading, their mean would jump: the block counts as empty.
  const sumOf = (name: 'value' | 'variance' | 'read' | 'readVariance', share: number): Float64Array =>
    blocks.middleS.map((_, i) => trends.reduce((sum, trend) => sum + trend[name][i] / share, 0))
  return {
    value: sumOf('value', trends.length),
    variance: sumOf('variance', trends.length ** 2),
    read: sumOf('read', trends.length),
    readVariance: sumOf('readVariance', trends.length ** 2),
    hidden: Math.max(...trends.map((t) => t.hidden)) / Math.sqrt(trends.length),
    unseen: Math.max(...trends.map((t) => t.unseen)) / Math.sqrt(trends.length),
    /** Samples of the first of them. */
    samples: trends[0].samples as Kelvins,
  }
}
