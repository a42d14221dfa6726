import type { ChannelSamples, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { equalRuns, longestSilence } from '#analysis/signal/column-spans.ts'
import { barometerIsWrong, sampledChannels } from '#analysis/signal/pressure-signal.ts'
import { allFaults, caution, type Faults, noFaults } from './fault.ts'

/** Fewest equal readings that are not chance: the air moves by a pascal in minutes. Own figure. */
const fewestReadings = 20
/** A run of equal readings is not chance if all others are this many times shorter and it covers this share of the hold. Own figures. */
const timesLonger = 8
const mostStill = 0.25
/** A barometer with at least this resolution step may repeat a reading for long, [Pa]. Own figure. */
const coarseStepPa = 15
/** Longest gap without barometer readings, as a share of the hold. Own figure. */
const longestGap = 0.25

/**
 * The recording without useless barometers: silent for a good part of the hold, or stuck at one reading. The weather is then
 * allowed for as if no barometer were connected.
 */
export function withUsableBarometers(
  recording: Recording,
  system: System,
  holdS: number,
  untilS: number,
): { readonly recording: Recording; readonly faults: Faults } {
  // An implausible barometer is reported and left out elsewhere.
  if (barometerIsWrong(recording, system)) return { recording, faults: noFaults }
  const dropped = new Set<string>()
  const barometers = sampledChannels(recording, system, ['barometric-pressure'])
  const cautions = barometers.flatMap(({ channel, samples }): Faults[] => {
    const silentS = longestSilence(samples.timeS, samples.reading, Number.isFinite, holdS, untilS)
    const silent = silentS > longestGap * (untilS - holdS)
    if (!silent && !stoodStill(samples, holdS, untilS)) return []
    dropped.add(channel.id)
    return [
      silent
        ? caution('barometer-silent', { channel: channel.id, seconds: silentS })
        : caution('barometer-still', { channel: channel.id }),
    ]
  })
  if (dropped.size === 0) return { recording, faults: noFaults }
  const channels = recording.channels.filter((c) => !dropped.has(c.channel))
  return { recording: { ...recording, channels }, faults: allFaults(cautions) }
}

/** Whether a barometer repeated one reading throughout the recording, or through much of the hold while varying elsewhere. */
function stoodStill({ timeS, reading }: ChannelSamples, holdS: number, untilS: number): boolean {
  const { longest: run, nextLength } = equalRuns(reading)
  if (run.length < fewestReadings) return false
  if (run.length === reading.length) return true
  const within = Math.min(timeS[run.from + run.length - 1], untilS) - Math.max(timeS[run.from], holdS)
  return (
    leastStep(reading) < coarseStepPa &&
    within > mostStill * (untilS - holdS) &&
    run.length > timesLonger * nextLength
  )
}

/** Smallest step between unequal neighbors, [Pa]; infinite if there is none. */
function leastStep(reading: Float64Array): number {
  let least = Number.POSITIVE_INFINITY
  for (let i = 1; i < reading.length; i++)
    if (reading[i] !== reading[i - 1]) least = Math.min(least, Math.abs(reading[i] - reading[i - 1]))
  return least
}
