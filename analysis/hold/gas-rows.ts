import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { blockAverages, blockEdges, firstIndexAt } from './block-averages.ts'
import { calibratedReadings } from './calibrated-readings.ts'
import type { GasRows } from './gas-columns.ts'
import { gaugeZero } from './gauge-zero.ts'
import type { HoldStages } from './hold-stages.ts'
import { barometerOf, type PressureSignal, samplesOf } from './pressure-signal.ts'
import { type SampleNoise, sampleNoise } from './sample-noise.ts'
import { smoothTrend } from './smooth-trend.ts'

/** Most blocks a hold is averaged into: enough to see its shape, few enough to be quick. */
const mostBlocks = 130

/** Temperatures outside this are a sensor's error codes (−127 °C, 85 °C at start excepted) and not air, [K]. */
const coldestK = 273.15 - 55
const hottestK = 273.15 + 84

/** A hold made ready for the fit, with what the charts and the checks need. */
export interface GasHold {
  readonly rows: GasRows
  /** Middle of each row, seconds from the recording's start. */
  readonly middleS: Float64Array
  readonly gaugePa: Float64Array
  readonly absolutePa: Float64Array
  /** Null when the section has no thermometer. */
  readonly temperatureK: Float64Array | null
  /** Null when no barometer is connected. */
  readonly barometricPa: Float64Array | null
  readonly meanTemperatureK: number
  readonly meanBarometricPa: number
  /** Absolute stated test pressure, [Pa]. */
  readonly testPa: number
  /** Reading at the atmosphere before pump-up, taken off; null when it was not seen. */
  readonly zeroPa: number | null
  /** Rise of the thermometer during pump-up over an adiabatic one's; 0 without a thermometer. */
  readonly warmth: number
  readonly noise: SampleNoise
  /** Temperature trend over the hold that the thermometer could miss, [K]. */
  readonly unseenTemperatureK: number
  /** Change of the atmosphere over the hold that the barometer could miss, [Pa]; null without one. */
  readonly unseenWeatherPa: number | null
  /** Whether the transducer reads absolute pressure. */
  readonly absolute: boolean
  /** Samples of pressure in the hold itself. */
  readonly samples: number
  readonly spikes: number
}

/**
 * Averages a hold into time blocks and builds the rows of its fit, from the end of pump-up to the vent.
 *
 * @param untilS last moment to use, seconds from the recording's start
 * @returns null when fewer than eight blocks have samples
 */
export function gasHold(
  recording: Recording,
  system: System,
  stages: HoldStages,
  signal: PressureSignal,
  sections: readonly string[],
  untilS: number,
): GasHold | null {
  const { spec } = stages
  const holdS = stages.holdS as number
  const startS = quietStartS(signal, stages, untilS)
  // An absolute transducer is taken as it is: the barometer's noise has no business in it.
  const absolute = signal.channel.measures === 'absolute-pressure'
  const readPa = absolute ? calibratedReadings(signal.channel, signal.reading) : signal.gaugePa
  const noise = sampleNoise(sliceOf(signal.timeS, readPa, startS, untilS), signal.channel.resolutionSi)
  const spacing = medianSpacing(signal.timeS, startS, untilS)
  const edges = blockEdges(startS, untilS, spacing * 1.001, mostBlocks)
  const spikeLimit = Math.max(12 * noise.std, 4 * noise.step)
  const pressure = blockAverages(
    signal.timeS,
    readPa,
    edges,
    spikeLimit > 0 ? spikeLimit : Number.POSITIVE_INFINITY,
  )
  const kept: number[] = []
  for (let b = 0; b < pressure.count.length; b++) if (pressure.count[b] > 0) kept.push(b)
  if (kept.length < 8) return null

  const middleS = Float64Array.from(kept, (b) => (edges[b] + edges[b + 1]) / 2)
  const temperature = sectionTemperature(recording, system, sections, edges, kept, middleS)
  const barometer = barometerOf(recording, system)
  const weather =
    barometer === null
      ? null
      : trendOf(
          barometer.samples.timeS,
          calibratedReadings(barometer.channel, barometer.samples.reading),
          edges,
          kept,
          middleS,
        )
  const barometricPa = weather?.value ?? null
  const zeroPa = gaugeZero(signal, stages.pumpUpS, spec.pressurePa)
  const atmosphere = (i: number): number => (barometricPa ? barometricPa[i] : standardAtmospherePa)
  const meanPa = Float64Array.from(kept, (b) => pressure.mean[b])
  const gaugePa = meanPa.map((p, i) => (absolute ? p - atmosphere(i) : p) - (zeroPa ?? 0))
  const absolutePa = meanPa.map((p, i) => (absolute ? p : gaugePa[i] + atmosphere(i)))
  const meanBarometricPa = barometricPa ? mean(barometricPa) : standardAtmospherePa
  const meanTemperatureK = temperature ? mean(temperature.value) : 293.15
  const testPa = spec.pressurePa + meanBarometricPa
  const step = noise.step
  const variance = Float64Array.from(kept, (b, i) => {
    const count = pressure.count[b]
    // A coarse converter's error does not average out inside a block.
    const rounding = noise.coarse ? step ** 2 / 12 : step ** 2 / 12 / count
    return (Math.max(noise.std ** 2 / count, 1e-4) + rounding) / absolutePa[i] ** 2
  })
  const rows: GasRows = {
    fromS: Float64Array.from(kept, (b) => edges[b] - startS),
    toS: Float64Array.from(kept, (b) => edges[b + 1] - startS),
    absolutePa,
    gaugePa,
    variance,
    logTemperature: temperature
      ? temperature.value.map((t) => Math.log(t / meanTemperatureK))
      : new Float64Array(kept.length),
    temperatureVariance: temperature
      ? temperature.variance.map((v, i) => v / temperature.value[i] ** 2)
      : new Float64Array(kept.length),
    temperatureK: meanTemperatureK,
    holdFromS: holdS - startS,
    statedHoldS: spec.holdS,
    testPa,
    testGaugePa: spec.pressurePa,
  }
  const from = firstIndexAt(signal.timeS, holdS)
  const to = firstIndexAt(signal.timeS, untilS)
  return {
    rows,
    middleS,
    gaugePa,
    absolutePa,
    temperatureK: temperature?.value ?? null,
    barometricPa,
    meanTemperatureK,
    meanBarometricPa,
    testPa,
    zeroPa,
    warmth: temperature
      ? pumpUpWarmth(temperature.samples, stages, startS, untilS, spec.pressurePa / testPa)
      : 0,
    noise,
    unseenTemperatureK: temperature?.unseenK ?? 0,
    unseenWeatherPa: weather?.unseenK ?? null,
    absolute,
    samples: to - from,
    spikes: pressure.spikes,
  }
}

/** When the fit may begin: after settle was marked and the pressure has stopped rising. */
function quietStartS(signal: PressureSignal, stages: HoldStages, untilS: number): number {
  const holdS = stages.holdS as number
  const markedS = stages.settleS ?? holdS
  const sign = stages.spec.pressurePa < 0 ? -1 : 1
  // Whoever marks a little early is still pumping: begin at the peak of the first fifth.
  const lookS = Math.max(
    Math.min(markedS + 0.2 * (untilS - markedS), Math.max(holdS, markedS + 5)),
    markedS + 1,
  )
  let peakS = markedS
  let peak = Number.NEGATIVE_INFINITY
  const from = firstIndexAt(signal.timeS, markedS)
  let first = Number.NaN
  for (let i = from; i < signal.timeS.length && signal.timeS[i] <= lookS; i++) {
    const level = sign * signal.gaugePa[i]
    if (Number.isNaN(first)) first = level
    if (level > peak) {
      peak = level
      peakS = signal.timeS[i]
    }
  }
  const rose = peak - first > 0.01 * Math.abs(stages.spec.pressurePa)
  return (rose ? peakS : markedS) + 1
}

interface Kelvins {
  readonly timeS: Float64Array
  readonly kelvin: Float64Array
}

/**
 * How far the thermometer rose from before pump-up to just after it, over the rise of an adiabatic pump-up. A recording
 * that begins under pressure is judged by how far the thermometer fell back instead.
 */
function pumpUpWarmth(
  { timeS, kelvin }: Kelvins,
  stages: HoldStages,
  startS: number,
  untilS: number,
  relativePressure: number,
): number {
  const fromS = stages.pumpUpS ?? startS
  const before =
    (stages.pumpUpS === null ? null : meanBetween(timeS, kelvin, fromS - 60, fromS)) ??
    meanBetween(timeS, kelvin, untilS - 0.2 * (untilS - startS), untilS)
  if (before === null) return 0
  let warmest = before
  for (let atS = fromS; atS < startS + 60; atS += 8) {
    const level = meanBetween(timeS, kelvin, atS, atS + 8)
    if (level !== null) warmest = Math.max(warmest, level)
  }
  return (warmest - before) / ((2 / 7) * Math.abs(relativePressure) * before)
}

function meanBetween(timeS: Float64Array, values: Float64Array, fromS: number, toS: number): number | null {
  const seen = sliceOf(timeS, values, fromS, toS).filter((v) => !Number.isNaN(v))
  return seen.length > 0 ? mean(seen) : null
}

function sectionTemperature(
  recording: Recording,
  system: System,
  sections: readonly string[],
  edges: Float64Array,
  kept: readonly number[],
  middleS: Float64Array,
): { value: Float64Array; variance: Float64Array; unseenK: number; samples: Kelvins } | null {
  const trends: { value: Float64Array; variance: Float64Array; unseenK: number; samples: Kelvins }[] = []
  for (const channel of system.channels) {
    if (channel.measures !== 'temperature' || channel.section === null || !sections.includes(channel.section))
      continue
    const samples = samplesOf(recording, channel)
    if (samples === null) continue
    const kelvin = calibratedReadings(channel, samples.reading).map((t) =>
      t > coldestK && t < hottestK ? t : Number.NaN,
    )
    const trend = trendOf(samples.timeS, kelvin, edges, kept, middleS, channel.resolutionSi, true)
    if (trend.known >= Math.max(4, 0.3 * kept.length))
      trends.push({ ...trend, samples: { timeS: samples.timeS, kelvin } })
  }
  if (trends.length === 0) return null
  const value = new Float64Array(middleS.length)
  const variance = new Float64Array(middleS.length)
  for (const trend of trends) {
    for (let i = 0; i < value.length; i++) {
      value[i] += trend.value[i] / trends.length
      variance[i] += trend.variance[i] / trends.length ** 2
    }
  }
  return {
    value,
    variance,
    unseenK: Math.max(...trends.map((t) => t.unseenK)) / Math.sqrt(trends.length),
    samples: trends[0].samples,
  }
}

function trendOf(
  timeS: Float64Array,
  reading: Float64Array,
  edges: Float64Array,
  kept: readonly number[],
  middleS: Float64Array,
  resolution: number | null = null,
  roughStart = false,
): { value: Float64Array; variance: Float64Array; known: number; unseenK: number } {
  const noise = sampleNoise(sliceOf(timeS, reading, edges[0], edges[edges.length - 1]), resolution)
  const blocks = blockAverages(
    timeS,
    reading,
    edges,
    Math.max(12 * noise.std, 4 * noise.step) || Number.POSITIVE_INFINITY,
  )
  const means = Float64Array.from(kept, (b) => blocks.mean[b])
  let known = 0
  const variance = Float64Array.from(kept, (b) => {
    const count = blocks.count[b]
    if (count === 0) return Number.POSITIVE_INFINITY
    known++
    const rounding = noise.coarse ? noise.step ** 2 / 12 : noise.step ** 2 / 12 / count
    return Math.max(noise.std ** 2 / count, 1e-8) + rounding
  })
  const trend = smoothTrend(middleS, means, variance, roughStart)
  const last = trend.variance.length - 1
  const ends = Math.sqrt(trend.variance[0] + trend.variance[last])
  return {
    value: trend.value,
    variance: trend.variance,
    known,
    unseenK: Math.max(ends, noise.coarse ? noise.step / Math.sqrt(12) : 0),
  }
}

function sliceOf(timeS: Float64Array, values: Float64Array, fromS: number, toS: number): Float64Array {
  return values.subarray(firstIndexAt(timeS, fromS), firstIndexAt(timeS, toS))
}

function medianSpacing(timeS: Float64Array, fromS: number, toS: number): number {
  const from = firstIndexAt(timeS, fromS)
  const to = firstIndexAt(timeS, toS)
  if (to - from < 3) return 1
  const stride = Math.max(1, Math.floor((to - from) / 2000))
  const gaps: number[] = []
  for (let i = from + 1; i < to; i += stride) gaps.push(timeS[i] - timeS[i - 1])
  gaps.sort((a, b) => a - b)
  return Math.max(1e-3, gaps[gaps.length >> 1])
}

function mean(values: Float64Array): number {
  let sum = 0
  for (const v of values) sum += v
  return sum / values.length
}
