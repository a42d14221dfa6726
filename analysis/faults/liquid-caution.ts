import { steepestPaPerK } from '#analysis/fit/full-line.ts'
import type { Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'

/** Warming that sun on a wing can bring within one hold, [K]. Source: common practice */
const sunlitK = 5

/**
 * Warns of a closed section full of fuel: without air, each kelvin of warming raises the pressure by about a megapascal
 * and can burst the weakest part.
 *
 * @param temperatureK [K]; 20 °C if unknown
 * @returns null for a gas hold
 */
export function liquidCaution(section: Section, spec: HoldSpec, temperatureK = 293.15): Reason | null {
  if (!isLiquid(section.medium)) return null
  const perK = steepestPaPerK(section, section.medium, temperatureK, spec.pressurePa)
  const limit = section.maxPressurePa
  const room = limit === null ? null : (limit - spec.pressurePa) / perK
  return reason('liquid-full-overpressure', {
    section: section.id,
    medium: section.medium,
    rise_Pa_per_K: perK,
    room_K: room === null ? null : Math.max(0, room),
    sunlit: room !== null && room < sunlitK,
  })
}
