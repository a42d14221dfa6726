import { steepestPaPerK } from '#analysis/fit/liquid-prior.ts'
import type { Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { toUnit } from '#analysis/physics/units.ts'

/** Warming that sun on a wing can bring within one hold, [K]. Source: common practice */
const sunlitK = 5

/**
 * Warns of a closed section full of fuel: without air in it, warming raises the pressure by about a megapascal for each
 * kelvin and bursts what is weakest.
 *
 * @param temperatureK [K]; 20 °C where it is not known
 * @returns null for a gas hold
 */
export function liquidCaution(section: Section, spec: HoldSpec, temperatureK = 293.15): Reason | null {
  if (!isLiquid(section.medium)) return null
  const perK = steepestPaPerK(section, section.medium, temperatureK, spec.pressurePa)
  const rise = `each kelvin of warming can raise it by up to ${figure(toUnit(perK, 'psi'))} psi (${figure(toUnit(perK, 'kPa'))} kPa)`
  const limit = section.maxPressurePa
  const room = limit === null ? null : (limit - spec.pressurePa) / perK
  const reached =
    room === null
      ? 'its max-pressure is not stated'
      : room < sunlitK
        ? `${figure(Math.max(0, room))} K is enough to pass its max-pressure`
        : `${figure(room)} K would pass its max-pressure`
  return {
    code: 'liquid-full-overpressure',
    message:
      `Danger of bursting: ${section.id} is closed and full of ${section.medium}: ${rise}; ${reached}. ` +
      'Fit a relief valve or leave it a way out, keep it out of the sun, and open it as soon as the hold ends.',
  }
}

/** Two significant digits, without an exponent. */
function figure(value: number): string {
  return value >= 100 ? String(Math.round(value)) : String(Number(value.toPrecision(2)))
}
