import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { firstIndexAt } from '../block-averages.ts'
import { calibratedReadings } from '../calibrated-readings.ts'
import { isTank } from '../gas-priors.ts'
import { isLiquid } from '../liquid-prior.ts'
import { barometerOf, samplesOf } from '../pressure-signal.ts'
import { bars, type Faults, noFaults } from './fault.ts'
import { type GaugeView, meanOf, medianOf } from './gauge-view.ts'

const blocks = 24
/** The first blocks may still hold the last of the pumping; the whole rest must stand still. */
const settling = 3
/** Share of the thermometer's changes that the gas of a closed section shows at least. Own figures. */
const leastShare = { line: 0.5, tank: 0.1 }
/** Longest pump-up and wait at pressure after which gas is surely still warm, [s]. Own figures. */
const soonS = { line: 90, tank: 300 }

/**
 * Looks for a pressure that something holds up: closed-in gas cools after pump-up and follows the temperature and, on a
 * gauge, the atmosphere. A pressure that stays within its noise although these move, or that never fell after a quick
 * pump-up, is kept by the supply, which also feeds a leak; or the gauge reads trapped gas elsewhere.
 */
export function supplyConnected(view: GaugeView, recording: Recording, system: System): Faults {
  const { section, settleS, untilS, testPa } = view
  if (isLiquid(section.medium) || untilS - settleS < 60) return noFaults
  const edges = Array.from(
    { length: blocks + 1 },
    (_, k) => settleS + 2 + ((untilS - settleS - 2) * k) / blocks,
  )
  const parts = edges.slice(1).map((to, k) => view.level(edges[k], to))
  if (parts.some((part) => part.length < 4)) return noFaults
  const seen = Float64Array.from(parts, meanOf).subarray(settling)
  const { std, step } = view.noise
  const smallestPart = Math.min(...parts.map((part) => part.length))
  const still = 2 * Math.hypot(std / Math.sqrt(smallestPart), 0.3 * step)
  if (spread(seen) > still) return noFaults
  const kind = isTank(section) ? 'tank' : 'line'
  const expected = expectedChange(view, recording, system, edges).subarray(settling)
  if (spread(expected) * leastShare[kind] > Math.max(2.5 * spread(seen), 0.7 * still))
    return bars(
      'pressure-held-up',
      `The pressure of ${section.id} stood still although temperature or atmosphere moved, as closed-in gas cannot: the supply is still connected, or the gauge is shut off from the section.`,
    )
  if (!pumpedQuickly(view, soonS[kind]) || 0.02 * testPa < 3 * Math.max(step, std)) return noFaults
  const first = view.level(settleS, settleS + Math.max(3, 0.01 * (untilS - settleS)))
  if (
    first.length < 3 ||
    meanOf(first) - medianOf(seen) > 4 * Math.max(std / Math.sqrt(first.length), step / 4)
  )
    return noFaults
  return bars(
    'pressure-held-up',
    `The pressure of ${section.id} did not fall at all after a quick pump-up, as gas does while it cools: the supply is still connected, or the gauge is shut off from the section. Disconnect the supply and hold again.`,
  )
}

/** How the gauge of a closed rigid section would have moved with temperature and atmosphere, block by block, [Pa]. */
function expectedChange(
  view: GaugeView,
  recording: Recording,
  system: System,
  edges: readonly number[],
): Float64Array {
  const out = new Float64Array(blocks)
  const channel = system.channels.find(
    ({ id, measures, section }) =>
      measures === 'temperature' &&
      section !== null &&
      view.joined.includes(section) &&
      recording.channels.some((c) => c.channel === id && c.timeS.length > 0),
  )
  const thermometer = channel && samplesOf(recording, channel)
  if (channel && thermometer) {
    const kelvin = blockMeans(thermometer.timeS, calibratedReadings(channel, thermometer.reading), edges)
    const absolutePa = view.spec.pressurePa + standardAtmospherePa
    const middle = meanOf(kelvin)
    if (middle > 200 && middle < 360)
      for (let k = 0; k < blocks; k++) out[k] += absolutePa * (kelvin[k] / middle - 1)
  }
  const barometer = barometerOf(recording, system)
  if (barometer !== null && view.signal.channel.measures === 'gauge-pressure') {
    const { channel: baro, samples } = barometer
    const pressure = blockMeans(samples.timeS, calibratedReadings(baro, samples.reading), edges)
    for (let k = 0; k < blocks; k++) out[k] -= pressure[k] - pressure[0]
  }
  return out.every(Number.isFinite) ? out : new Float64Array(blocks)
}

function blockMeans(timeS: Float64Array, values: Float64Array, edges: readonly number[]): Float64Array {
  return Float64Array.from({ length: blocks }, (_, k) =>
    meanOf(values.subarray(firstIndexAt(timeS, edges[k]), firstIndexAt(timeS, edges[k + 1]))),
  )
}

/** Whether the pressure came within `soonS` before the settle began, and no longer. */
function pumpedQuickly(view: GaugeView, withinS: number): boolean {
  if (view.pumpUpS !== null && view.settleS - view.pumpUpS <= withinS) return true
  const before = view.level(view.settleS - withinS, view.settleS - withinS + 3)
  return before.length > 0 && medianOf(before) < 0.5 * view.testPa
}

function spread(values: Float64Array): number {
  const middle = meanOf(values)
  let squares = 0
  for (const value of values) squares += (value - middle) ** 2
  return Math.sqrt(squares / (values.length - 1))
}
