import { isoTime } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import { quantileOf } from '#analysis/numeric/order-statistics.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { barometerIsWrong } from '#analysis/signal/pressure-signal.ts'
import { allFaults, caution, type Faults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Advice on instruments that does not affect the verdict. */
export function instrumentAdvice(view: GaugeView): Faults {
  const { section, spec, signal, noise, allowedPa, recording, system } = view
  const { channel } = signal
  const parts: Faults[] = []
  const highest = quantileOf(view.level(view.pumpUpS ?? view.settleS, view.untilS), 0.998)
  const limit = spec.pressurePa < 0 ? section.maxVacuumPa : section.maxPressurePa
  if (limit !== null && highest > 1.005 * limit)
    parts.push(
      caution('over-max-pressure', {
        section: section.id,
        pressure_Pa: highest,
        limit_Pa: limit,
        vacuum: spec.pressurePa < 0,
      }),
    )
  parts.push(...gaugeAdvice(channel, spec.pressurePa, allowedPa, noise.step))
  if (barometerIsWrong(recording, system)) parts.push(caution('barometer-implausible', {}))
  const due = channel.calibration?.due
  const date = isoTime(recording.startNs).slice(0, 10)
  if (due && date > due) parts.push(caution('calibration-overdue', { channel: channel.id, due, date }))
  return allFaults(parts)
}

/** Beyond a published limit, and not at it in other units. */
const isAbove = (value: number, limit: number): boolean => value > 1.01 * limit

/**
 * Advice on a gauge whose span is too large or whose steps are too coarse.
 *
 * *Source* span: laboratory procedure to 33 CFR 183.542; resolution 10 × and accuracy 4 × finer than the allowance:
 * ASTM E2930, scope. Both as read (docs/method.md section 5).
 *
 * @param stepPa step of the readings, 0 when none is visible
 */
export function gaugeAdvice(
  channel: Channel,
  pressurePa: number,
  allowedPa: number,
  stepPa: number,
): Faults[] {
  const parts: Faults[] = []
  if (channel.rangeSi !== null) {
    const above = channel.measures === 'absolute-pressure' ? standardAtmospherePa : 0
    const span = Math.max(Math.abs(channel.rangeSi[1] - above), Math.abs(channel.rangeSi[0] - above))
    if (isAbove(span, 3 * Math.abs(pressurePa)))
      parts.push(caution('gauge-span-large', { channel: channel.id, times: span / Math.abs(pressurePa) }))
  }
  if (isAbove(stepPa, allowedPa / 10))
    parts.push(caution('gauge-coarse', { channel: channel.id, share: stepPa / allowedPa }))
  if (channel.accuracySi !== null && isAbove(channel.accuracySi, allowedPa / 4))
    parts.push(caution('gauge-inaccurate', { channel: channel.id, share: channel.accuracySi / allowedPa }))
  return parts
}
