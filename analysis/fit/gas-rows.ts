import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { mean } from '#analysis/numeric/moments.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { blockAverages, blockEdges, firstIndexAt } from '#analysis/signal/block-averages.ts'
import { blockTrend } from '#analysis/signal/block-trend.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { lineThrough, medianSpacing, sliceOf } from '#analysis/signal/column-spans.ts'
import { gaugeZero, zeroErrorPa } from '#analysis/signal/gauge-zero.ts'
import { barometerOf, type PressureSignal } from '#analysis/signal/pressure-signal.ts'
import { referenceVessel } from '#analysis/signal/reference-vessel.ts'
import { sampleNoise, spikeLimit, varianceOfMean } from '#analysis/signal/sample-noise.ts'
import { type Kelvins, sectionTemperature } from '#analysis/signal/section-temperature.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { Stroke } from './full-line.ts'
import { constants } from './hold-constants.ts'

/** Input of the fit for one section: rows are time blocks. */
export interface GasRows {
  /** Block edges from the end of pump-up, [s]; row i spans fromS[i] to toS[i]. */
  readonly fromS: Float64Array
  readonly toS: Float64Array
  readonly absolutePa: Float64Array
  readonly gaugePa: Float64Array
  /** White variance of ln p, and the part of it that comes from the barometer. */
  readonly variance: Float64Array
  readonly weatherVariance: Float64Array
  /** Whether the transducer reads absolute pressure, without the barometer's noise. */
  readonly absolute: boolean
  /** ln(T/T₀) of the raw thermometer readings, NaN where missing, and its variance; null without a thermometer. */
  readonly thermometer: Float64Array | null
  readonly thermometerVariance: Float64Array
  readonly vessel: VesselRows | null
  /** Mean temperature T₀, [K]. */
  readonly temperatureK: number
  /** Start of the hold, [s] from the end of pump-up: the leak column is 0 there. */
  readonly holdFromS: number
  /** Stated hold time, [s], and stated test pressure, absolute and gauge, [Pa]. */
  readonly statedHoldS: number
  readonly testPa: number
  readonly testGaugePa: number
}

/** A closed reference vessel beside the section. */
export interface VesselRows {
  /** ln of its absolute pressure over the mean, and its variance. */
  readonly logPressure: Float64Array
  readonly variance: Float64Array
  /** Pressure of the section over the vessel's. */
  readonly ratio: number
  /** Rate of unmeasured atmospheric change in ln p of the section, common to both gauges, standard deviation, [1/s]. */
  readonly weatherStdPerS: number
}

/** Maximum number of blocks per hold: enough to show its shape, few enough to be fast. */
const mostBlocks = 130

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
) {
  const { spec } = stages
  const holdS = stages.holdS as number
  const startS = quietStartS(signal, stages, untilS)
  // An absolute transducer needs no barometer, so no barometer noise is added.
  const absolute = signal.channel.measures === 'absolute-pressure'
  const readPa = absolute ? calibratedReadings(signal.channel, signal.reading) : signal.gaugePa
  const noise = sampleNoise(
    sliceOf(signal.timeS, readPa, startS, untilS),
    signal.channel.resolutionSi,
    readPa,
  )
  const spacing = medianSpacing(signal.timeS, startS, untilS)
  const edges = blockEdges(startS, untilS, spacing * 1.001, mostBlocks)
  const pressure = blockAverages(signal.timeS, readPa, edges, spikeLimit(noise))
  const kept: number[] = []
  for (let b = 0; b < pressure.count.length; b++) if (pressure.count[b] > 0) kept.push(b)
  if (kept.length < 8) return null

  const middleS: Float64Array = Float64Array.from(kept, (b) => (edges[b] + edges[b + 1]) / 2)
  const blocks = { edges, kept, middleS }
  const temperature = sectionTemperature(recording, system, sections, blocks)
  const barometer = barometerOf(recording, system)
  const weather =
    barometer &&
    blockTrend(
      barometer.samples.timeS,
      calibratedReadings(barometer.channel, barometer.samples.reading),
      blocks,
    )
  const barometricPa = weather?.value ?? null
  const zeroPa = gaugeZero(signal, stages.pumpUpS, spec.pressurePa)
  const atmosphere = (i: number): number => (barometricPa ? barometricPa[i] : standardAtmospherePa)
  const meanPa = Float64Array.from(kept, (b) => pressure.mean[b])
  const gaugePa: Float64Array = meanPa.map((p, i) => (absolute ? p - atmosphere(i) : p) - (zeroPa ?? 0))
  const absolutePa: Float64Array = meanPa.map((p, i) => (absolute ? p : gaugePa[i] + atmosphere(i)))
  const meanBarometricPa = barometricPa ? mean(barometricPa) : standardAtmospherePa
  const meanTemperatureK = temperature ? mean(temperature.value) : 293.15
  const testPa = spec.pressurePa + meanBarometricPa
  const variance = Float64Array.from(kept, (b, i) => {
    // With a gauge transducer, the absolute pressure contains the remaining barometer noise.
    const atmospheric = absolute || weather === null ? 0 : weather.variance[i]
    return (Math.max(varianceOfMean(noise, pressure.count[b]), 1e-4) + atmospheric) / absolutePa[i] ** 2
  })
  const rows: GasRows = {
    fromS: Float64Array.from(kept, (b) => edges[b] - startS),
    toS: Float64Array.from(kept, (b) => edges[b + 1] - startS),
    absolutePa,
    gaugePa,
    variance,
    weatherVariance: weather
      ? weather.variance.map((v, i) => v / absolutePa[i] ** 2)
      : new Float64Array(kept.length),
    absolute,
    thermometer: temperature?.read.map((t) => Math.log(t / meanTemperatureK)) ?? null,
    thermometerVariance: temperature
      ? temperature.readVariance.map((v) => v / meanTemperatureK ** 2)
      : new Float64Array(kept.length),
    vessel: null,
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
    /** Middle of each row, seconds from the recording's start. */
    middleS,
    gaugePa,
    absolutePa,
    /** Null when the section has no thermometer. */
    temperatureK: (temperature?.value ?? null) as Float64Array | null,
    /** Null when no barometer is connected. */
    barometricPa,
    meanTemperatureK,
    meanBarometricPa,
    /** Absolute stated test pressure, [Pa]. */
    testPa,
    /** Reading at atmospheric pressure before pump-up, already subtracted; null when not seen. */
    zeroPa,
    /** Limit of the zero error; 0 where the zero was seen, [Pa]. */
    zeroErrorPa: zeroPa === null ? zeroErrorPa(signal) : 0,
    /** Null when the section has no thermometer. */
    warmth: temperature
      ? pumpUpWarmth(temperature.samples, stages, startS, untilS, spec.pressurePa / testPa)
      : null,
    noise,
    /** Temperature trend over the hold below the thermometer's resolution, [K]. */
    unseenTemperatureK: temperature?.hidden ?? 0,
    /** Atmospheric change over the hold below the barometer's resolution, [Pa]; null without one. */
    unseenWeatherPa: weather?.unseen ?? null,
    /** The closed twin vessel beside the section, if it has one. */
    reference: referenceVessel(recording, system, sections, blocks, temperature !== null, barometricPa),
    /** Whether the transducer reads absolute pressure. */
    absolute,
    /** Number of pressure samples in the hold itself. */
    samples: to - from,
    spikes: pressure.spikes,
  }
}

/** A hold prepared for the fit, with the data for charts and checks. */
export type GasHold = Readonly<NonNullable<ReturnType<typeof gasHold>>>

/** Earliest start of the fit: after the settle mark and the end of the pressure rise. */
function quietStartS(signal: PressureSignal, stages: HoldStages, untilS: number): number {
  const holdS = stages.holdS as number
  const markedS = stages.settleS ?? holdS
  const sign = stages.spec.pressurePa < 0 ? -1 : 1
  // An early mark falls within pumping: begin at the peak of the first fifth.
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

/** The hold from after the last stroke before it: the heat of that stroke then counts as heat of pumping. */
export function afterStrokes(hold: GasHold, strokes: readonly Stroke[], holdS: number): GasHold {
  const { rows, middleS } = hold
  const lastS = Math.max(...strokes.flatMap(({ timeS }) => (timeS < holdS ? [timeS] : [])))
  const first = middleS.findIndex((at) => at > lastS + constants.strokeClearS)
  if (first <= 0 || middleS.length - first < 8) return hold
  const startS = rows.fromS[first]
  /** The same with every column from that row on. */
  const rest = <T extends object>(columns: T): T => {
    const parts = Object.entries(columns).map(([name, column]) => [
      name,
      column instanceof Float64Array ? column.subarray(first) : column,
    ])
    return Object.fromEntries(parts)
  }
  const later = rest(rows)
  const [fromS, toS] = [later.fromS, later.toS].map((column) => column.map((at) => at - startS))
  return { ...rest(hold), rows: { ...later, fromS, toS, holdFromS: rows.holdFromS - startS } }
}

/** Part of a recording that begins under pressure, used for the room's linear trend: the last three fifths. */
const trendShare = 0.4

/**
 * Thermometer rise from before pump-up to just after it. In a recording that begins under pressure, the initial deviation
 * of the thermometer from the room's trend.
 *
 * @returns its rise relative to an adiabatic pump-up (under suction its fall), and whether it was read before pump-up; else
 * the response comes from the recovery, which a room's own changes resemble
 */
export function pumpUpWarmth(
  { timeS, kelvin }: Kelvins,
  stages: HoldStages,
  startS: number,
  untilS: number,
  relativePressure: number,
) {
  const fromS = stages.pumpUpS ?? startS
  const before = stages.pumpUpS === null ? null : meanBetween(timeS, kelvin, fromS - 60, fromS)
  const trend =
    before === null
      ? lineThrough(timeS, kelvin, startS + trendShare * (untilS - startS), untilS, startS)
      : { perS: 0, atEnd: before }
  if (trend === null) return { share: 0, seen: false }
  const room = (atS: number): number => trend.atEnd + trend.perS * (atS - startS)
  const sign = relativePressure < 0 ? -1 : 1
  let furthest = 0
  for (let atS = fromS; atS < startS + 60; atS += 8) {
    const level = meanBetween(timeS, kelvin, atS, atS + 8)
    if (level !== null) furthest = Math.max(furthest, sign * (level - room(atS + 4)))
  }
  return { share: furthest / ((2 / 7) * Math.abs(relativePressure) * room(fromS)), seen: before !== null }
}

function meanBetween(timeS: Float64Array, values: Float64Array, fromS: number, toS: number): number | null {
  const seen = sliceOf(timeS, values, fromS, toS).filter((v) => !Number.isNaN(v))
  return seen.length > 0 ? mean(seen) : null
}
