import type { Section } from '#analysis/model/system.ts'
import {
  type GasBeliefs,
  gainBeliefs,
  gasThermometerBelief,
  isTank,
  shapeFamilies,
  stretchBeliefs,
} from './gas-priors.ts'
import type { GasHold } from './gas-rows.ts'

/** Creep time constants to try, as shares of the span. */
const creepShares = [0.12, 0.3, 0.8]

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
export const unknownWeatherPaPerS = 130 / 3600

/** What is believed of a gas hold before its data. */
export function gasBeliefs(hold: GasHold, section: Section, pressurePa: number, holdS: number): GasBeliefs {
  const gauge = Math.abs(pressurePa)
  const unseen = hold.unseenTemperatureK / hold.meanTemperatureK
  const unseenWeather = hold.unseenWeatherPa ?? unknownWeatherPaPerS * holdS
  // An absolute gauge feels the weather only through a volume that gives way to it.
  const feels = hold.absolute ? (isTank(section) && section.stretchPerPa !== 0 ? 0.5 : 0.05) : 1
  const weather = (feels * unseenWeather) / hold.testPa
  const span = hold.rows.toS[hold.rows.toS.length - 1]
  return {
    stretch: stretchBeliefs(section),
    gain: gainBeliefs,
    families: shapeFamilies(section, hold.temperatureK === null ? 0 : gasThermometerBelief(hold.warmth)),
    fullHeat: (2 / 7) * (gauge / hold.testPa),
    creepScale: 0.005 * (gauge / hold.testPa),
    creepWeight: 0.4,
    creepTausS: creepShares.map((share) => share * span),
    dropStd: gauge / hold.testPa,
    unseenStd: Math.hypot(unseen, weather),
  }
}
