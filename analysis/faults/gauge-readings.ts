import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { medianOf, quantileOf, rangeOf } from '#analysis/numeric/order-statistics.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import { equalRuns, sliceOf } from '#analysis/signal/column-spans.ts'
import { sampleNoise } from '#analysis/signal/sample-noise.ts'
import { allFaults, type Faults, noFaults, voidHold } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Noise of this many converter steps changes nearly every reading. */
const livelyNoise = 0.7
/** Probability of a frozen run by chance, per hold. */
const chanceOfRun = 1e-9
const shortestRun = 20
/** Least readings outside the run to judge the gauge's noise, and the time before pump-up that they are taken from, [s]. */
const fewestOutside = 30
const restS = 60

/** Finds readings that a working transducer does not give: clipped at the end of its span, or frozen at one value. */
export function gaugeReadings(view: GaugeView): Faults {
  return allFaults([clipped(view), frozen(view), mixed(view)])
}

/** Median step between readings that no gauge of a closed section makes, as a share of the test pressure. Own figure. */
const jumpShare = 0.05
/** Most readings checked, spread evenly over the hold. */
const mostPairs = 2000

/** Two series mixed in one channel: the reading keeps jumping between them. */
function mixed({ signal, section, holdS, untilS, testPa }: GaugeView): Faults {
  const { timeS, gaugePa, channel } = signal
  const from = firstIndexAt(timeS, holdS)
  const to = firstIndexAt(timeS, untilS)
  const stride = Math.max(1, Math.floor((to - from) / mostPairs))
  const steps: number[] = []
  for (let i = from + 1; i < to; i += stride) {
    const step = Math.abs(gaugePa[i] - gaugePa[i - 1])
    if (Number.isFinite(step)) steps.push(step)
  }
  const usual = medianOf(Float64Array.from(steps))
  if (steps.length < shortestRun || usual < jumpShare * testPa) return noFaults
  return voidHold('readings-mixed', { section: section.id, channel: channel.id, share: usual / testPa })
}

/** Half a percent of the readings, or this many in a row, are at the end of the span. */
function clipped({ signal, section, settleS, holdS, untilS }: GaugeView): Faults {
  const { rangeSi, resolutionSi, id } = signal.channel
  if (rangeSi === null) return noFaults
  const [low, high] = rangeSi
  const span = high - low
  const step = Math.min(resolutionSi ?? span / 2 ** 16, span / 256)
  const endWithin = (fromS: number, toS: number): 'lower' | 'upper' | null => {
    const readings = sliceOf(signal.timeS, signal.reading, fromS, toS)
    let count = 0
    let running = 0
    let longest = 0
    let last: 'lower' | 'upper' | null = null
    for (const reading of readings) {
      const end = reading >= high - step ? 'upper' : reading <= low + step ? 'lower' : null
      running = end === null ? 0 : running + 1
      longest = Math.max(longest, running)
      if (end === null) continue
      last = end
      count++
    }
    return longest >= 3 && (longest >= 10 || count > 0.005 * readings.length) ? last : null
  }
  // The first moments after pump-up may be high; the fit handles them.
  const end = endWithin(holdS, untilS) ?? endWithin(settleS + 0.1 * (holdS - settleS), holdS)
  return end === null ? noFaults : voidHold('clipped', { section: section.id, channel: id, end })
}

/** One reading repeated for longer than the noise around it allows. */
function frozen(view: GaugeView): Faults {
  const { signal, section, pumpUpS, settleS, untilS, holdS, endS } = view
  const { timeS, reading } = signal
  const to = firstIndexAt(timeS, untilS)
  const best = equalRuns(reading, firstIndexAt(timeS, settleS), to).longest
  if (best.length < shortestRun) return noFaults
  const lastS = timeS[best.from + best.length - 1]
  if (lastS - timeS[best.from] < 0.02 * (untilS - holdS)) return noFaults
  // The noise outside the run shows whether so long a run is plausible.
  const outside: number[] = []
  const fromS = pumpUpS ?? settleS
  for (let i = firstIndexAt(timeS, settleS); i < to; i++)
    if (i < best.from || i >= best.from + best.length) outside.push(reading[i])
  // Frozen throughout: use the readings at rest before pump-up and after the vent.
  if (outside.length < fewestOutside) {
    const [low, high] = signal.channel.rangeSi ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
    for (const [from, until] of [
      [fromS - restS, fromS - 1],
      [(untilS + endS) / 2, endS],
    ]) {
      const part = sliceOf(signal.timeS, signal.reading, from, until).filter(
        (value) => value > low && value < high,
      )
      if (isAtRest(part)) for (const value of part) outside.push(value)
    }
  }
  const still = Float64Array.from(outside)
  const run = { section: section.id, channel: signal.channel.id, seconds: lastS - timeS[best.from] }
  if (still.length >= fewestOutside) {
    if (isNoChance(best.length, still, signal.channel.resolutionSi))
      return voidHold('gauge-stuck', { ...run, still: 'livelier' })
    if (best.from > firstIndexAt(timeS, holdS) || lastS < untilS - 0.1 * (untilS - holdS)) return noFaults
  }
  // Frozen from settle to vent: the gauge works if it moved before and after.
  // An operator reads the gauge at rest and once it is pumped up, not in between.
  const rise = view.byEye ? view.level(fromS - restS, settleS + view.spacingS) : view.level(fromS, settleS)
  const moved = rise.length >= (view.byEye ? 2 : 3) && rangeOf(rise) > 0.1 * view.testPa
  const fell = rangeOf(view.level(untilS, endS + 1e-6)) > 0.1 * view.testPa
  if (moved && fell) return noFaults
  return voidHold('gauge-stuck', { ...run, still: moved ? 'vent' : 'pump-up' })
}

/** Whether readings fluctuate without a trend: the median of the first half is within the range of the second. */
function isAtRest(readings: Float64Array): boolean {
  const half = readings.length >> 1
  const middle = medianOf(readings.subarray(0, half))
  const later = readings.subarray(half)
  return quantileOf(later, 0) <= middle && middle <= quantileOf(later, 1)
}

/** Whether a gauge with the noise of these readings would not repeat one reading this many times by chance. */
export function isNoChance(repeated: number, lively: Float64Array, resolutionSi: number | null): boolean {
  if (repeated < shortestRun || lively.length < fewestOutside) return false
  const { std, step } = sampleNoise(lively, resolutionSi)
  if (!(step > 0 && std >= livelyNoise * step)) return false
  // Upper bound of the probability of repeating a code, wherever the value is between two steps.
  const again = 2 * normalCdf(step / (2 * std)) - 1
  return lively.length * again ** repeated < chanceOfRun && repeated > 8 * equalRuns(lively).longest.length
}
