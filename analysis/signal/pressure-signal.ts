import type { ChannelSamples, Recording } from '#analysis/model/samples.ts'
import { type Channel, type HoldSpec, isSectionPressure, type System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { firstIndexAt } from './block-averages.ts'
import { calibratedReadings } from './calibrated-readings.ts'

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
export const unknownWeatherPaPerS = 130 / 3600

/** A section's pressure over time, at the transducer's own instants. */
export interface PressureSignal {
  readonly channel: Channel
  readonly timeS: Float64Array
  /** Calibrated gauge pressure, [Pa]. */
  readonly gaugePa: Float64Array
  /** Raw readings, before the calibration, SI. */
  readonly reading: Float64Array
  /** Whether a gauge transducer or an absolute transducer with a barometer measures the gauge pressure. */
  readonly atmosphereKnown: boolean
  /** Mean over a span, or null without a sample in it. */
  meanGauge(fromS: number, toS: number): number | null
}

/** Samples of a channel, or null when the recording has none of it. */
export function samplesOf(recording: Recording, channel: Channel): ChannelSamples | null {
  const samples = recording.channels.find((c) => c.channel === channel.id)
  return samples && samples.timeS.length > 0 ? samples : null
}

/** The first channel of the system that measures something there and has samples. */
function channelWithSamples(
  recording: Recording,
  system: System,
  wanted: (channel: Channel) => boolean,
): { channel: Channel; samples: ChannelSamples } | null {
  for (const channel of system.channels) {
    if (!wanted(channel)) continue
    const samples = samplesOf(recording, channel)
    if (samples !== null) return { channel, samples }
  }
  return null
}

/** Pressure of the first measured section among those given, as gauge pressure; null when none is measured. */
export function pressureSignal(
  recording: Recording,
  system: System,
  of: Pick<HoldSpec, 'sections'>,
): PressureSignal | null {
  const found = channelWithSamples(recording, system, (c) => isPressureOf(c, of.sections))
  return found === null ? null : signalOf(recording, system, found.channel, found.samples)
}

/** The same for each further transducer of a section. */
export function furtherSignals(recording: Recording, system: System, section: string): PressureSignal[] {
  const measured = system.channels.flatMap((channel) => {
    const samples = isPressureOf(channel, [section]) ? samplesOf(recording, channel) : null
    return samples === null ? [] : [{ channel, samples }]
  })
  return measured.slice(1).map(({ channel, samples }) => signalOf(recording, system, channel, samples))
}

function isPressureOf({ measures, section }: Channel, sections: readonly string[]): boolean {
  return isSectionPressure(measures) && section !== null && sections.includes(section)
}

function signalOf(
  recording: Recording,
  system: System,
  channel: Channel,
  { timeS, reading }: ChannelSamples,
): PressureSignal {
  const corrected = calibratedReadings(channel, reading)
  const gaugePa =
    channel.measures === 'gauge-pressure' ? corrected : belowAtmosphere(recording, system, timeS, corrected)
  return {
    channel,
    timeS,
    gaugePa,
    reading,
    atmosphereKnown: channel.measures === 'gauge-pressure' || barometerOf(recording, system) !== null,
    meanGauge(fromS, toS) {
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
export function barometerOf(
  recording: Recording,
  system: System,
): { channel: Channel; samples: ChannelSamples } | null {
  const found = channelWithSamples(recording, system, (c) => c.measures === 'barometric-pressure')
  return found !== null && isAtmosphere(found.samples.reading) ? found : null
}

/** Whether a connected barometer reads implausible pressures: unplugged, or its unit is wrong. */
export function barometerIsWrong(recording: Recording, system: System): boolean {
  const found = channelWithSamples(recording, system, (c) => c.measures === 'barometric-pressure')
  return found !== null && !isAtmosphere(found.samples.reading)
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
