import type { ChannelSamples, Recording } from '#analysis/model/samples.ts'
import type { Channel, ChannelKind, HoldSpec, System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { firstIndexAt } from './block-averages.ts'
import { calibratedReadings } from './calibrated-readings.ts'

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
export const unknownWeatherPaPerS = 130 / 3600

/** A channel of the system with its samples, at least one. */
export interface SampledChannel {
  readonly channel: Channel
  readonly samples: ChannelSamples
}

/** Samples of a channel, or null when the recording has none of it. */
export function samplesOf(recording: Recording, channel: Channel): ChannelSamples | null {
  const samples = recording.channels.find((c) => c.channel === channel.id)
  return samples && samples.timeS.length > 0 ? samples : null
}

/** The channels of the system that measure something, in these sections or anywhere, and have samples. */
export function sampledChannels(
  recording: Recording,
  system: System,
  measures: readonly ChannelKind[],
  sections: readonly string[] | null = null,
): SampledChannel[] {
  return system.channels.flatMap((channel) => {
    const { section } = channel
    const isThere = sections === null || (section !== null && sections.includes(section))
    const samples = isThere && measures.includes(channel.measures) ? samplesOf(recording, channel) : null
    return samples === null ? [] : [{ channel, samples }]
  })
}

const pressures: readonly ChannelKind[] = ['gauge-pressure', 'absolute-pressure']

/** Pressure of the first measured section among those given, as gauge pressure; null when none is measured. */
export function pressureSignal(
  recording: Recording,
  system: System,
  of: Pick<HoldSpec, 'sections'>,
): PressureSignal | null {
  const [first] = sampledChannels(recording, system, pressures, of.sections)
  return first === undefined ? null : signalOf(recording, system, first)
}

/** The same of every transducer of these sections, from the n-th on. */
export function pressureSignals(
  recording: Recording,
  system: System,
  sections: readonly string[],
  n = 0,
): PressureSignal[] {
  return sampledChannels(recording, system, pressures, sections)
    .slice(n)
    .map((each) => signalOf(recording, system, each))
}

function signalOf(
  recording: Recording,
  system: System,
  { channel, samples: { timeS, reading } }: SampledChannel,
) {
  const corrected = calibratedReadings(channel, reading)
  const gaugePa =
    channel.measures === 'gauge-pressure' ? corrected : belowAtmosphere(recording, system, timeS, corrected)
  return {
    channel,
    timeS,
    /** Calibrated gauge pressure, [Pa]. */
    gaugePa,
    /** Raw readings, before the calibration, SI. */
    reading,
    /** Whether a gauge transducer or an absolute transducer with a barometer measures the gauge pressure. */
    atmosphereKnown: channel.measures === 'gauge-pressure' || barometerOf(recording, system) !== null,
    /** Mean over a span, or null without a sample in it. */
    meanGauge(fromS: number, toS: number): number | null {
      let sum = 0
      let count = 0
      for (let i = firstIndexAt(timeS, fromS); i < timeS.length && timeS[i] <= toS; i++) {
        if (Number.isNaN(gaugePa[i])) continue
        sum += gaugePa[i]
        count++
      }
      return count > 0 ? sum / count : null
    },
  }
}

/** A section's pressure over time, at the transducer's own instants. */
export type PressureSignal = Readonly<ReturnType<typeof signalOf>>

function belowAtmosphere(
  recording: Recording,
  system: System,
  timeS: Float64Array,
  absolutePa: Float64Array,
): Float64Array {
  const barometer = barometerOf(recording, system)
  // Without a barometer, assume the mean at sea level.
  if (barometer === null) return absolutePa.map((p) => p - standardAtmospherePa)
  const { samples, channel } = barometer
  const pressure = calibratedReadings(channel, samples.reading)
  let j = 0
  return absolutePa.map((p, i) => {
    while (j + 1 < samples.timeS.length && samples.timeS[j + 1] <= timeS[i]) j++
    return p - pressure[j]
  })
}

/** The barometer with plausible samples, or null. */
export function barometerOf(recording: Recording, system: System): SampledChannel | null {
  const [found] = sampledChannels(recording, system, ['barometric-pressure'])
  return found !== undefined && isAtmosphere(found.samples.reading) ? found : null
}

/** Whether a connected barometer reads implausible pressures: unplugged, or its unit is wrong. */
export function barometerIsWrong(recording: Recording, system: System): boolean {
  const [found] = sampledChannels(recording, system, ['barometric-pressure'])
  return found !== undefined && !isAtmosphere(found.samples.reading)
}

/** Plausible atmosphere, from above the highest airfields to the strongest high, with margin for a cheap sensor, [Pa]. */
const thinnestPa = 45_000
const densestPa = 115_000

function isAtmosphere(reading: Float64Array): boolean {
  const stride = Math.max(1, Math.floor(reading.length / 101))
  let within = 0
  let looked = 0
  for (let i = 0; i < reading.length; i += stride) {
    looked++
    if (reading[i] > thinnestPa && reading[i] < densestPa) within++
  }
  return within > 0.9 * looked
}
