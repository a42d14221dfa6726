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
  if (!measured)
    return share > mostOfAllowance
      ? bars('no-temperature', { section: section.id, silent_s: null, unseen_K: unmeasuredK, share })
      : caution('temperature-not-measured', { section: section.id, silent_s: null, unseen_K: unmeasuredK })
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
    return share > mostOfAllowance
      ? bars('no-temperature', { section: section.id, silent_s: silentS, unseen_K: unmeasuredK, share })
      : caution('temperature-not-measured', { section: section.id, silent_s: silentS, unseen_K: unmeasuredK })
  }
  for (const { channel, samples } of seen) {
    if (!thermometerStill(samples.timeS, samples.reading, view.holdS, view.untilS)) continue
    const still = { section: section.id, channel: channel.id, unseen_K: unmeasuredK }
    const vouched = (channel.resolutionSi ?? 0) >= coarseStepK && neverMoved(samples.reading)
    if (vouched) return caution('thermometer-still', { ...still, coarse: true, share: null })
    return share > mostOfAllowance
      ? bars('thermometer-still', { ...still, coarse: false, share })
      : caution('thermometer-still', { ...still, coarse: false, share: null })
  }
  return noFaults
}
