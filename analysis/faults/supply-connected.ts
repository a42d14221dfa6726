import { isTank } from '#analysis/model/system.ts'
import { mean } from '#analysis/numeric/moments.ts'
import { medianOf } from '#analysis/numeric/order-statistics.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { heatLeft, standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { meansOver, rangesBetween } from '#analysis/signal/block-averages.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { barometerOf } from '#analysis/signal/pressure-signal.ts'
import { isAirTemperature } from '#analysis/signal/section-temperature.ts'
import { blocksPass, caution, type Faults, noFaults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'
import { thermometersOf } from './temperature.ts'

const blocks = 24
/** First blocks, which may contain the pumping transient; all the others must be constant. */
const settling = 3
/** First blocks in which a thermometer in the gas, or a slow one, may still show the heat of pumping: they do not count. */
const warm = 9
/** Standard deviations by which trapped gas must fit the readings worse than a constant pressure. Own figure. */
const mostUnlikely = 5
/** Least share of the thermometer's changes that the gas of a closed section shows. Own figures. */
const leastShare = { line: 0.5, tank: 0.1 }
/** Shortest time constant of heat from gas to wall in a tank, [s], and least share of it that the gauge shows. Own figures. */
const quickestS = 30
const shownShare = 0.3
/** A fall below this share of the test pressure does not count: gauges drift. Own figure. */
const noFallShare = 0.002

/**
 * Detects a pressure that the supply maintains: trapped gas cools after pump-up and follows the temperature and, on a
 * gauge, the atmosphere. If the pressure is constant while these change, or never fell after a quick pump-up of a tank,
 * the supply maintains it and feeds any leak; or the gauge reads trapped gas elsewhere.
 *
 * A thin line cools within a second (radius²/(5.78·diffusivity): 0.2 s for 8 mm), so a missing fall is only a caution there.
 */
export function supplyConnected(view: GaugeView): Faults {
  const { section, settleS, untilS, testPa } = view
  if (isLiquid(section.medium) || untilS - settleS < 60) return noFaults
  const edges = Array.from(
    { length: blocks + 1 },
    (_, k) => settleS + 2 + ((untilS - settleS - 2) * k) / blocks,
  )
  const parts = edges.slice(1).map((to, k) => view.level(edges[k], to))
  const smallestPart = Math.min(...parts.map((part) => part.length))
  if (smallestPart < 4) return noFaults
  const seen = Float64Array.from(parts, mean).subarray(settling)
  const { std, step } = view.noise
  const still = 2 * Math.hypot(std / Math.sqrt(smallestPart), 0.3 * step)
  const kind = isTank(section) ? 'tank' : 'line'
  const expected = expectedChange(view, edges).subarray(warm)
  const seenLate = seen.subarray(warm - settling)
  const share = leastShare[kind]
  const unsure = Math.hypot(still / 2, share * jitter(expected))
  const followed = seenLate.map((pressure, k) => pressure - share * expected[k])
  if (
    spread(seen) <= still &&
    restAboutFall(followed) - restAboutFall(seenLate) > (mostUnlikely * unsure) ** 2
  )
    return blocksPass('pressure-held-up', { section: section.id, how: 'still' })
  const noFall = Math.max(4 * Math.max(std / Math.sqrt(fewestInMean), step / 4), noFallShare * testPa)
  if (spread(seen) > Math.max(still, 0.5 * noFall)) return noFaults
  if (highestMean(view) - Math.min(...seen) > noFall) return noFaults
  if (kind === 'line') return caution('supply-not-excluded', { section: section.id })
  if (leastCooling(view) * testPa < 2 * noFall) return noFaults
  return blocksPass('pressure-held-up', { section: section.id, how: 'no-fall' })
}

/** Duration and least number of readings of the mean that estimates the pressure at the end of pump-up. */
const meanS = 3
const fewestInMean = 3

/** Highest level from pump-up until shortly after the start of settling, where cooling begins, however late it was marked. */
function highestMean(view: GaugeView): number {
  const { settleS, untilS } = view
  const fromS = view.pumpUpS ?? settleS
  const toS = settleS + Math.max(meanS, 0.01 * (untilS - settleS))
  let highest = Number.NEGATIVE_INFINITY
  for (let atS = toS - meanS; atS > fromS - meanS; atS -= meanS) {
    const part = view.level(atS, atS + meanS)
    if (part.length >= fewestInMean) highest = Math.max(highest, mean(part))
  }
  return highest === Number.NEGATIVE_INFINITY ? mean(view.level(settleS, settleS + 5 * meanS)) : highest
}

/** A closed rigid section's gauge as temperature and atmosphere move it, per block, but for a constant, [Pa]; NaN where unknown. */
function expectedChange(view: GaugeView, edges: readonly number[]): Float64Array {
  const { recording, system } = view
  const out = new Float64Array(blocks)
  const thermometer = thermometersOf(view)[0]
  if (thermometer !== undefined) {
    const { channel, samples } = thermometer
    const kelvin = meansOver(
      calibratedReadings(channel, samples.reading),
      rangesBetween(samples.timeS, edges),
    )
    const absolutePa = view.spec.pressurePa + standardAtmospherePa
    const middle = mean(kelvin)
    if (isAirTemperature(middle)) for (let k = 0; k < blocks; k++) out[k] += (absolutePa * kelvin[k]) / middle
  }
  const barometer = barometerOf(recording, system)
  if (barometer !== null && view.signal.channel.measures === 'gauge-pressure') {
    const { channel: baro, samples } = barometer
    const pressure = meansOver(calibratedReadings(baro, samples.reading), rangesBetween(samples.timeS, edges))
    for (let k = 0; k < blocks; k++) out[k] -= pressure[k]
  }
  return out
}

/**
 * Least share of the gauge pressure that the gas of a tank still loses by cooling after the start of settling.
 *
 * *Source* docs/method.md section 1, adiabatic fill: 2/7 of the pressure added.
 */
function leastCooling(view: GaugeView): number {
  const { settleS, testPa } = view
  const fromS = view.pumpUpS ?? settleS - 12 * quickestS
  let arrivedS = settleS
  let beganS = settleS
  // Search backward in short steps for the arrival at pressure and the start of pumping.
  let atRest = false
  for (let atS = settleS; atS > fromS - 3; atS -= 1) {
    const part = view.level(atS - 1.5, atS + 0.5)
    if (part.length === 0) continue
    const share = medianOf(part) / testPa
    if (share > 0.95) arrivedS = atS
    if (share > 0.1) beganS = atS
    else atRest = true
  }
  // Without the rise on record the heat is unknown.
  if (!atRest) return 0
  const pumpS = Math.max(1, arrivedS - beganS)
  return (2 / 7) * heatLeft(pumpS + settleS - arrivedS, pumpS, quickestS) * shownShare
}

/** Residual sum of squares of the best non-rising line: a leak may explain a fall, but nothing may enter. */
function restAboutFall(values: Float64Array): number {
  const line = straightLine(
    values.map((_, k) => k),
    values,
  )
  const slope = Math.min(0, line.slope)
  return values.reduce((sum, value, k) => sum + (value - line.meanY - slope * (k - line.meanX)) ** 2, 0)
}

/** Standard deviation of a series about a smooth curve, from its second differences. */
function jitter(values: Float64Array): number {
  let squares = 0
  for (let k = 2; k < values.length; k++) squares += (values[k] - 2 * values[k - 1] + values[k - 2]) ** 2
  return Math.sqrt(squares / (6 * (values.length - 2)))
}

function spread(values: Float64Array): number {
  const middle = mean(values)
  let squares = 0
  for (const value of values) squares += (value - middle) ** 2
  return Math.sqrt(squares / (values.length - 1))
}
