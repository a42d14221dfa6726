import { steepestPaPerK } from '#analysis/fit/full-line.ts'
import { mean } from '#analysis/numeric/moments.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { firstIndexAt, rangesBetween } from '#analysis/signal/block-averages.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { type EqualRun, equalRuns, longestSilence } from '#analysis/signal/column-spans.ts'
import { type SampledChannel, sampledChannels } from '#analysis/signal/pressure-signal.ts'
import { isAirTemperature } from '#analysis/signal/section-temperature.ts'
import { blocksPass, caution, type Faults, noFaults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Assumed change of an unmeasured temperature over a hold, [K]. Own figure. */
export const unmeasuredK = 0.5
/** Largest effect of that change, as a share of the allowance, for a hold without a thermometer. Own figure. */
const mostOfAllowance = 0.25
/** Longest gap without thermometer readings, as a share of the hold. Own figure. */
const longestGap = 0.25

/** Thermometers of a section that have readings. */
export function thermometersOf({ recording, system, joined }: GaugeView): SampledChannel[] {
  return sampledChannels(recording, system, ['temperature'], joined)
}

/** A thermometer that is missing although the allowance needs one, or one that may be dead. */
export function temperatureFaults(view: GaugeView, measured: boolean): Faults {
  const { section, spec, holdS, untilS, allowedPa } = view
  const perK = isLiquid(section.medium)
    ? steepestPaPerK(section, section.medium, 293.15, spec.pressurePa)
    : (spec.pressurePa + standardAtmospherePa) / 293.15
  const share = (unmeasuredK * perK) / allowedPa
  const notSeen = (silent_s: number | null): Faults => {
    const unseen = { section: section.id, silent_s, unseen_K: unmeasuredK }
    return share > mostOfAllowance
      ? blocksPass('no-temperature', { ...unseen, share })
      : caution('temperature-not-measured', unseen)
  }
  if (!measured) return notSeen(null)
  const seen = thermometersOf(view)
  const silentS = Math.min(
    ...seen.map(({ channel, samples: { timeS, reading } }) =>
      longestSilence(timeS, calibratedReadings(channel, reading), isAirTemperature, holdS, untilS),
    ),
  )
  if (silentS > longestGap * (untilS - holdS)) return notSeen(silentS)
  for (const { channel, samples } of seen) {
    if (!thermometerStill(samples.timeS, samples.reading, holdS, untilS)) continue
    const still = { section: section.id, channel: channel.id, unseen_K: unmeasuredK }
    const vouched = (channel.resolutionSi ?? 0) >= coarseStepK && neverMoved(samples.reading)
    if (vouched) return caution('thermometer-still', { ...still, coarse: true, share: null })
    return share > mostOfAllowance
      ? blocksPass('thermometer-still', { ...still, coarse: false, share })
      : caution('thermometer-still', { ...still, coarse: false, share: null })
  }
  return inAir(view, seen, perK)
}

/** Share of a change of the air that the wall may not have followed at the end of a hold. Own figure. */
const wallLag = 0.5
/** Number of equal parts of a hold whose averages give the range of the air. */
const airParts = 12

/** A thermometer in the air measures the section's temperature only while the air is steady. */
function inAir(
  { section, holdS, untilS, allowedPa }: GaugeView,
  seen: readonly SampledChannel[],
  perK: number,
): Faults {
  if (seen.some(({ channel }) => channel.on !== 'air')) return noFaults
  const edges = Array.from({ length: airParts + 1 }, (_, n) => holdS + (n * (untilS - holdS)) / airParts)
  const swings = seen.map(({ channel, samples: { timeS, reading } }) => {
    const kelvin = calibratedReadings(channel, reading)
    const parts = rangesBetween(timeS, edges).map(([from, to]) =>
      kelvin.subarray(from, to).filter(isAirTemperature),
    )
    return rangeOf(parts.map(mean))
  })
  const unseenK = wallLag * Math.min(...swings)
  const share = (unseenK * perK) / allowedPa
  const values = { section: section.id, channel: seen[0].channel.id, unseen_K: unseenK, share }
  return share > mostOfAllowance
    ? blocksPass('thermometer-in-air', values)
    : caution('thermometer-in-air', { ...values, share: null })
}

/** Fewer equal readings than this may be chance. */
const fewestReadings = 30
/** Longest run of equal readings, as a share of the hold, and its ratio to the other runs. Own figures. */
const mostStill = 0.25
const timesLonger = 8

/** Most distinct readings of a coarse thermometer at the edge between two steps, which follows the room's drift. Own figure. */
const fewLevels = 2

/** A thermometer with at least this resolution step is constant in a quiet room, [K]. Own figure. */
const coarseStepK = 0.04

/**
 * Whether a thermometer seems dead: it repeated one reading through the whole hold, or for much of it although its readings
 * vary elsewhere. A coarse one in a quiet room looks the same: it counts as working if it moved by one step elsewhere in
 * the recording, and the step adds to the unseen change.
 */
export function thermometerStill(
  timeS: Float64Array,
  reading: Float64Array,
  holdS: number,
  untilS: number,
): boolean {
  const from = firstIndexAt(timeS, holdS)
  const to = firstIndexAt(timeS, untilS)
  const { longest, nextLength } = equalRuns(reading, from, to)
  if (longest.length < fewestReadings) return false
  const others = to - from - longest.length
  if (others === 0) return !(stepOf(reading) >= coarseStepK)
  const lastedS = timeS[longest.from + longest.length - 1] - timeS[longest.from]
  if (lastedS < mostStill * (untilS - holdS)) return false
  const coarse = stepOf(reading) >= coarseStepK
  if (coarse && levelsOf(reading) <= fewLevels) return false
  if (others >= fewestReadings) return longest.length > timesLonger * nextLength
  // Hardly another reading in the hold: use those before and after, unless the steps are coarse.
  if (coarse) return false
  return longest.length > timesLonger * Math.max(nextLength, longestElsewhere(reading, longest))
}

/** Longest run of equal readings outside the given one, which extends beyond the hold while the reading is the same. */
function longestElsewhere(reading: Float64Array, run: EqualRun): number {
  let { from } = run
  let to = from + run.length
  const value = reading[from]
  while (from > 0 && reading[from - 1] === value) from--
  while (to < reading.length && reading[to] === value) to++
  return Math.max(equalRuns(reading, 0, from).longest.length, equalRuns(reading, to).longest.length)
}

/** Whether a thermometer repeated one reading throughout the recording. */
function neverMoved(reading: Float64Array): boolean {
  return Number.isNaN(stepOf(reading))
}

/** Number of distinct readings, counted only as far as needed. */
function levelsOf(reading: Float64Array): number {
  const seen = new Set<number>()
  for (const value of reading) {
    if (!Number.isFinite(value)) continue
    seen.add(Math.round(value / 1e-6))
    if (seen.size > fewLevels) break
  }
  return seen.size
}

/** Smallest step between consecutive readings, in the reading's unit; NaN if none changed. */
function stepOf(reading: Float64Array): number {
  let least = Number.NaN
  for (let i = 1; i < reading.length; i++) {
    const step = Math.abs(reading[i] - reading[i - 1])
    // A rounding error of text or doubles is not a step, nor is the error code of a lost sensor.
    if (step > 1e-6 && step < 5 && !(step >= least)) least = step
  }
  return least
}
