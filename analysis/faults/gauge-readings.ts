import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import { equalRuns } from '#analysis/signal/equal-runs.ts'
import { sampleNoise } from '#analysis/signal/sample-noise.ts'
import { allFaults, type Faults, noFaults, voidHold } from './fault.ts'
import { type GaugeView, medianOf, quantileOf, readingsIn } from './gauge-view.ts'

/** Noise of this many converter steps changes nearly every reading. */
const livelyNoise = 0.7
/** A frozen run may come by chance once in so many holds. */
const chanceOfRun = 1e-9
const shortestRun = 20
/** Readings outside the run that it takes to judge how lively the gauge is, and how long before pump-up they are taken from, [s]. */
const fewestOutside = 30
const restS = 60

/** Readings that a working transducer does not give: at the end of its span, or the same number again and again. */
export function gaugeReadings(view: GaugeView): Faults {
  return allFaults([clipped(view), frozen(view), mixed(view)])
}

/** Usual step from one reading to the next that no gauge of a closed section makes, as a share of the test pressure. Own figure. */
const jumpShare = 0.05
/** Readings that are looked at, evenly over the hold, at the most. */
const mostPairs = 2000

/** Two series under one channel: the reading jumps from one to the other all the time. */
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

/** Half a percent of the readings, or so many on end, stand at the end of the span. */
function clipped({ signal, section, settleS, holdS, untilS }: GaugeView): Faults {
  const { rangeSi, resolutionSi, id } = signal.channel
  if (rangeSi === null) return noFaults
  const [low, high] = rangeSi
  const span = high - low
  const step = Math.min(resolutionSi ?? span / 2 ** 16, span / 256)
  const within = (from: number, to: number): 'low' | 'high' | null => {
    let count = 0
    let all = 0
    let running = 0
    let longest = 0
    let side: 'low' | 'high' = 'high'
    for (let i = firstIndexAt(signal.timeS, from); i < signal.timeS.length && signal.timeS[i] < to; i++) {
      const reading = signal.reading[i]
      all++
      const atHigh = reading >= high - step
      if (atHigh || reading <= low + step) {
        side = atHigh ? 'high' : 'low'
        count++
        running++
        longest = Math.max(longest, running)
      } else running = 0
    }
    return longest >= 3 && (longest >= 10 || count > 0.005 * all) ? side : null
  }
  // The first moments after pump-up may stand high and are left to the fit's own start.
  const side = within(holdS, untilS) ?? within(settleS + 0.1 * (holdS - settleS), holdS)
  if (side === null) return noFaults
  return voidHold('clipped', { section: section.id, channel: id, end: side === 'high' ? 'upper' : 'lower' })
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
  // Only what the gauge did outside the run tells whether it could have stood so still.
  const outside: number[] = []
  const fromS = pumpUpS ?? settleS
  for (let i = firstIndexAt(timeS, settleS); i < to; i++)
    if (i < best.from || i >= best.from + best.length) outside.push(reading[i])
  // Frozen throughout: what it did at rest before pump-up, and when the vent was over, tells.
  if (outside.length < fewestOutside) {
    const [low, high] = signal.channel.rangeSi ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
    for (const [from, until] of [
      [fromS - restS, fromS - 1],
      [(untilS + endS) / 2, endS],
    ]) {
      const part = readingsIn(signal, from, until).filter((value) => value > low && value < high)
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
  // Frozen from settle to vent: alive is what moved before and after.
  // Who reads by eye notes the gauge at rest and once it is pumped up, and not on the way.
  const rise = view.byEye ? view.level(fromS - restS, settleS + view.spacingS) : view.level(fromS, settleS)
  const moved = rise.length >= (view.byEye ? 2 : 3) && alive(rise, view.testPa)
  const fell = alive(view.level(untilS, endS + 1e-6), view.testPa)
  if (moved && fell) return noFaults
  return voidHold('gauge-stuck', { ...run, still: moved ? 'vent' : 'pump-up' })
}

/** Whether readings go up and down rather than on their way: the middle of the first half lies among the second. */
function isAtRest(readings: Float64Array): boolean {
  const half = readings.length >> 1
  const middle = medianOf(readings.subarray(0, half))
  const later = readings.subarray(half)
  return quantileOf(later, 0) <= middle && middle <= quantileOf(later, 1)
}

/** Whether a gauge as lively as these readings does not repeat one reading so many times by chance. */
export function isNoChance(repeated: number, lively: Float64Array, resolutionSi: number | null): boolean {
  if (repeated < shortestRun || lively.length < fewestOutside) return false
  const { std, step } = sampleNoise(lively, resolutionSi)
  if (!(step > 0 && std >= livelyNoise * step)) return false
  // The same code again has at most this chance, wherever between two steps the value lies.
  const again = 2 * normalCdf(step / (2 * std)) - 1
  return lively.length * again ** repeated < chanceOfRun && repeated > 8 * equalRuns(lively).longest.length
}

function alive(levels: Float64Array, testPa: number): boolean {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const level of levels) {
    low = Math.min(low, level)
    high = Math.max(high, level)
  }
  return high - low > 0.1 * testPa
}
