import { steepestPaPerK } from '#analysis/fit/liquid-prior.ts'
import { statedAllowance } from '#analysis/fit/stated-allowance.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { longestSilence } from '#analysis/signal/longest-silence.ts'
import { samplesOf } from '#analysis/signal/pressure-signal.ts'
import { isAirTemperature } from '#analysis/signal/section-temperature.ts'
import { bars, caution, type Faults, noFaults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'
import { coarseStepK, neverMoved, thermometerStill } from './thermometer-still.ts'

/** Change of an unmeasured temperature over a hold that has to be reckoned with, [K]. Own figure. */
export const unmeasuredK = 0.5
/** Share of the allowance that it may be worth before a hold without a thermometer proves nothing. Own figure. */
const mostOfAllowance = 0.25
/** Share of a hold in which no thermometer of the section may be heard. Own figure. */
const longestGap = 0.25

/** A thermometer that is missing where the allowance needs one, or that stands so still that it may be dead. */
export function temperatureFaults(
  view: GaugeView,
  recording: Recording,
  system: System,
  measured: boolean,
): Faults {
  const { section, spec } = view
  const perK = isLiquid(section.medium)
    ? steepestPaPerK(section, section.medium, 293.15, spec.pressurePa)
    : (spec.pressurePa + standardAtmospherePa) / 293.15
  const share = (unmeasuredK * perK) / statedAllowance(system, spec).drop_Pa
  const unseen = `${unmeasuredK} K unseen would be worth ${Math.round(100 * share)} % of the allowance`
  if (!measured)
    return share > mostOfAllowance
      ? bars(
          'no-temperature',
          `No thermometer of ${section.id} gave usable readings, and ${unseen}: put one on the section and hold again.`,
        )
      : caution(
          'temperature-not-measured',
          `${section.id} has no thermometer: a change of ${unmeasuredK} K is allowed for in the interval.`,
        )
  const channels = system.channels.filter(
    (c) => c.measures === 'temperature' && c.section !== null && view.joined.includes(c.section),
  )
  const seen = channels.flatMap((channel) => {
    const samples = samplesOf(recording, channel)
    return samples === null ? [] : [{ channel, samples }]
  })
  const silentS = Math.min(
    ...seen.map(({ channel, samples: { timeS, reading } }) =>
      longestSilence(timeS, calibratedReadings(channel, reading), isAirTemperature, view.holdS, view.untilS),
    ),
  )
  if (silentS > longestGap * (view.untilS - view.holdS)) {
    const silent = `The thermometer of ${section.id} gave no usable reading for ${Math.round(silentS)} s on end of the hold`
    return share > mostOfAllowance
      ? bars('no-temperature', `${silent}, and ${unseen}: check its plug, hold again.`)
      : caution('temperature-not-measured', `${silent}: check its plug.`)
  }
  for (const { channel, samples } of seen) {
    if (!thermometerStill(samples.timeS, samples.reading, view.holdS, view.untilS)) continue
    const still = `The thermometer of ${section.id} (${channel.id}) repeated one reading`
    const vouched = (channel.resolutionSi ?? 0) >= coarseStepK && neverMoved(samples.reading)
    if (vouched)
      return caution(
        'thermometer-still',
        `${still}, and its stated resolution is so coarse that a live one may: check that it is alive.`,
      )
    return share > mostOfAllowance
      ? bars(
          'thermometer-still',
          `${still} as a dead one does, and ${unseen}: see that it is alive, hold again.`,
        )
      : caution('thermometer-still', `${still}: check that it is alive.`)
  }
  return noFaults
}
