import { type HoldSpec, isTank, type Section } from '#analysis/model/system.ts'
import type { ReferenceVessel } from '#analysis/signal/reference-vessel.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/unknown-weather.ts'
import {
  flowBeliefs,
  type GasBeliefs,
  gainBeliefs,
  gasThermometerBelief,
  shapeFamilies,
  stretchBeliefs,
} from './gas-priors.ts'
import type { GasHold } from './gas-rows.ts'

/** Creep time constants to try, as shares of the span. */
const creepShares = [0.04, 0.07, 0.12, 0.21, 0.37, 0.65]

/** Relative error of a drop from the gauge's span and the leak law. Own figure. */
const spanStd = 0.015

/** How closely a twin vessel's gas follows the section's: what differs in wall, size and place. Own figure. */
const twinGain = [{ weight: 1, mean: 1, std: 0.05 }]

/** The atmosphere's change over the hold that no barometer sees, and how far the section's gauge feels it, [Pa]. */
function unseenWeatherPa(hold: GasHold, section: Section, holdS: number): number {
  const unseen = hold.unseenWeatherPa ?? unknownWeatherPaPerS * holdS
  // An absolute gauge feels the weather only through a volume that gives way to it.
  const feels = hold.absolute ? (isTank(section) && section.stretchPerPa !== 0 ? 0.5 : 0.05) : 1
  return feels * unseen
}

/** What is believed of the same hold when a closed twin vessel tells the gas temperature. */
export function vesselBeliefs(
  vessel: ReferenceVessel,
  hold: GasHold,
  section: Section,
  { pressurePa, holdS }: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  weatherShare: number,
): GasBeliefs {
  const unknown = unknownWeatherPaPerS * holdS * weatherShare
  const weather = hold.unseenWeatherPa === null ? unknown : unseenWeatherPa(hold, section, holdS)
  return {
    ...gasBeliefs(hold, section, pressurePa, holdS),
    gain: twinGain,
    families: shapeFamilies(section, 0),
    unseenStd: Math.hypot(vessel.unseen, weather / hold.testPa),
  }
}

/** What is believed of a gas hold before its data. */
export function gasBeliefs(hold: GasHold, section: Section, pressurePa: number, holdS: number): GasBeliefs {
  const gauge = Math.abs(pressurePa)
  const unseen = hold.unseenTemperatureK / hold.meanTemperatureK
  const weather = unseenWeatherPa(hold, section, holdS) / hold.testPa
  const { gaugePa, toS, holdFromS } = hold.rows
  const span = toS[toS.length - 1]
  // What is left of the pump-up heat early in a hold would be taken for a fall that tells of the leak.
  const late = toS.findIndex((endS) => endS > holdFromS + 0.25 * (span - holdFromS))
  return {
    stretch: stretchBeliefs(section),
    gain: gainBeliefs,
    flow: flowBeliefs(gaugePa.subarray(late)),
    families: shapeFamilies(section, hold.warmth === null ? 0 : gasThermometerBelief(hold.warmth)),
    // Under suction the gas is colder than its wall at first, and what gives way slowly gives way inwards.
    fullHeat: (2 / 7) * (pressurePa / hold.testPa),
    creepScale: 0.004 * (pressurePa / hold.testPa) + Math.sign(pressurePa) * 3.5e-4,
    creepWeight: 0.4,
    creepTausS: creepShares.map((share) => share * span),
    dropStd: gauge / hold.testPa,
    scaleStd: Math.hypot(spanStd, hold.zeroErrorPa / Math.sqrt(3) / gauge),
    unseenStd: Math.hypot(unseen, weather),
  }
}
