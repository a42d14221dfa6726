import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { firstIndexAt } from '../block-averages.ts'
import { isLiquid, steepestPaPerK } from '../liquid-prior.ts'
import { samplesOf } from '../pressure-signal.ts'
import { statedAllowance } from '../stated-allowance.ts'
import { bars, caution, type Faults, noFaults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Change of an unmeasured temperature over a hold that has to be reckoned with, [K]. Own figure. */
export const unmeasuredK = 0.5
/** Share of the allowance that it may be worth before a hold without a thermometer proves nothing. Own figure. */
const mostOfAllowance = 0.25

/** A thermometer that is missing where the allowance needs one, or that stands so still that it may be dead. */
export function temperatureFaults(
  view: GaugeView,
  recording: Recording,
  system: System,
  measured: boolean,
): Faults {
  const { section, spec } = view
  const allowedPa = statedAllowance(system, spec).drop_Pa
  if (!measured) {
    const perK = isLiquid(section.medium)
      ? steepestPaPerK(section, section.medium, 293.15, spec.pressurePa)
      : (spec.pressurePa + standardAtmospherePa) / 293.15
    const share = (unmeasuredK * perK) / allowedPa
    if (share > mostOfAllowance)
      return bars(
        'no-temperature',
        `No thermometer of ${section.id} gave usable readings, and ${unmeasuredK} K unseen would be worth ${Math.round(100 * share)} % of the allowance: put one on the section and hold again.`,
      )
    return caution(
      'temperature-not-measured',
      `${section.id} has no thermometer: a change of ${unmeasuredK} K is allowed for in the interval.`,
    )
  }
  const channels = system.channels.filter(
    (c) => c.measures === 'temperature' && c.section !== null && view.joined.includes(c.section),
  )
  for (const channel of channels) {
    const samples = samplesOf(recording, channel)
    if (samples === null) continue
    const part = samples.reading.subarray(
      firstIndexAt(samples.timeS, view.pumpUpS ?? view.settleS),
      firstIndexAt(samples.timeS, view.untilS),
    )
    if (part.length >= 30 && part.every((reading) => reading === part[0]))
      return caution(
        'thermometer-still',
        `The thermometer of ${section.id} (${channel.id}) repeated one reading throughout: check that it is alive.`,
      )
  }
  return noFaults
}
