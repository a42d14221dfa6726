import { medianOf, quantileOf } from '#analysis/numeric/order-statistics.ts'
import { sliceOf } from '#analysis/signal/column-spans.ts'
import { pressureSignals } from '#analysis/signal/pressure-signal.ts'
import { allFaults, blocksPass, type Faults, noFaults, voidHold } from './fault.ts'
import { isNoChance } from './gauge-readings.ts'
import type { GaugeView } from './gauge-view.ts'

/** Least fall of the gauge at the vent, as a share of the test pressure. Own figure. */
const ventShare = 0.15
/** Shares of the stated pressure to reach, and to have left at the start of the hold. Own figures. */
const reachedShare = 0.85
const leftShare = 0.6
/** Fewer samples than this after the vent show nothing. */
const fewestAfterVent = 3
/** A vent shows within this time, [s]. Own figure. */
const soonAfterVentS = 15

/**
 * Checks that the gauge follows the section: it must rise at pump-up, reach the stated pressure, and fall at the vent.
 * A gauge that is stuck, unplugged, on another section or shut off would otherwise pass every hold.
 */
export function gaugeResponse(view: GaugeView, live: boolean): Faults {
  const { testPa, section, signal } = view
  const gauge = { section: section.id, channel: signal.channel.id }
  const under = view.level(view.pumpUpS ?? view.settleS, view.untilS)
  if (under.length === 0) return voidHold('no-samples', gauge)
  const highest = quantileOf(under, 0.998)
  const rise = highest - restLevel(view)
  if (highest < 0.5 * testPa) return notPumped(view, gauge, highest / testPa, rise)
  const parts: Faults[] = []
  if (highest < reachedShare * testPa)
    parts.push(voidHold('pressure-not-reached', { section: section.id, share: highest / testPa }))
  const firstS = Math.max(5, 0.02 * (view.untilS - view.holdS), 1.5 * view.spacingS)
  const atHold = medianOf(view.level(view.holdS, view.holdS + firstS))
  if (atHold < leftShare * testPa)
    parts.push(blocksPass('pressure-lost-before-hold', { section: section.id, share: atHold / testPa }))
  if (!live) parts.push(ventResponse(view, gauge))
  return allFaults(parts)
}

/** Level at atmospheric pressure before pump-up; 0 if not recorded. */
function restLevel({ pumpUpS, level }: GaugeView): number {
  if (pumpUpS === null) return 0
  const before = level(pumpUpS - 60, pumpUpS - 0.5)
  return before.length >= 3 ? medianOf(before) : 0
}

interface GaugeNames {
  readonly section: string
  readonly channel: string
}

function notPumped(view: GaugeView, gauge: GaugeNames, share: number, rise: number): Faults {
  const { testPa, section, settleS, recording, system } = view
  const pumpUpS = view.pumpUpS ?? settleS
  const own = [...view.joined, ...view.spec.sections]
  const elsewhere = system.sections.map(({ id }) => id).filter((id) => !own.includes(id))
  const other = pressureSignals(recording, system, elsewhere).find(({ meanGauge }) => {
    const before = meanGauge(pumpUpS - 60, pumpUpS - 0.5) ?? 0
    const after = meanGauge(settleS, settleS + 30) ?? 0
    return Math.abs(after - before) > 0.5 * testPa
  })?.channel
  if (other !== undefined)
    return voidHold('wrong-channel', {
      ...gauge,
      otherSection: String(other.section),
      otherChannel: other.id,
    })
  if (Math.abs(rise) < 0.05 * testPa) return voidHold('no-pump-up-response', gauge)
  return voidHold('pressure-not-reached', { section: section.id, share })
}

function ventResponse(view: GaugeView, gauge: GaugeNames): Faults {
  const { signal, pumpUpS, ventS, untilS, endS, testPa } = view
  const notRecorded = blocksPass('vent-not-recorded', { ...gauge, cause: 'ended' })
  if (ventS === null) return notRecorded
  const after = view.level(ventS, endS + 1e-6)
  if (after.length < (view.byEye ? 1 : fewestAfterVent + 1)) return notRecorded
  const before = medianOf(view.level(Math.max(view.holdS, untilS - Math.max(60, 3 * view.spacingS)), untilS))
  const lowest = quantileOf(after, view.byEye ? 0 : 1 / (after.length - 1))
  if (before - lowest >= Math.min(ventShare * testPa, 0.5 * Math.abs(before))) {
    const rest =
      pumpUpS === null
        ? Float64Array.of()
        : sliceOf(signal.timeS, signal.reading, pumpUpS - 60, pumpUpS - 0.5).filter(Number.isFinite)
    if (pulledOut(view, rest)) return voidHold('clipped', { ...gauge, end: 'plug' })
    return wentDead(view, rest) ? blocksPass('vent-not-recorded', { ...gauge, cause: 'dead' }) : noFaults
  }
  // So soon after the vent it may not have fallen yet.
  if (endS - ventS < soonAfterVentS) return notRecorded
  return voidHold('no-vent-response', gauge)
}

/** Largest zero drift of a gauge during a hold, as a share of its span. Own figure. */
const mostZeroDrift = 0.005

/** Whether the gauge is pinned to the low end of its span after the vent but was clear of it at rest before pump-up. */
function pulledOut({ signal, untilS, endS, noise }: GaugeView, rest: Float64Array): boolean {
  const { rangeSi } = signal.channel
  if (rangeSi === null) return false
  const [low, high] = rangeSi
  const after = sliceOf(signal.timeS, signal.reading, (untilS + endS) / 2, endS)
  if (rest.length < 5 || after.length < 5) return false
  const clear = Math.max(4 * noise.step, 4 * noise.std, mostZeroDrift * (high - low))
  return medianOf(rest) > low + clear && after.every((reading) => reading <= low)
}

/** Whether all readings below half the held pressure are equal though the gauge is noisier at rest: no real vent looks so. */
function wentDead({ signal, untilS, endS }: GaugeView, rest: Float64Array): boolean {
  const held = medianOf(sliceOf(signal.timeS, signal.reading, untilS - 10, untilS).filter(Number.isFinite))
  const still = medianOf(rest)
  const half = (held + still) / 2
  const fallen = sliceOf(signal.timeS, signal.reading, untilS, endS + 1e-6).filter(
    (value) => Math.sign(value - half) === Math.sign(still - half),
  )
  const isSame = fallen.every((value) => value === fallen[0])
  return isSame && isNoChance(fallen.length, rest, signal.channel.resolutionSi)
}
