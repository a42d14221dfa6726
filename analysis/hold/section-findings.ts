import type {
  AllowanceFigures,
  HoldCurves,
  Reason,
  SectionLeak,
  Verdict,
} from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Section, System } from '#analysis/model/system.ts'
import { gasColumns, place } from './gas-columns.ts'
import { type GasFit, gasFit } from './gas-fit.ts'
import { gasLeak } from './gas-leak.ts'
import {
  type GasBeliefs,
  gainBeliefs,
  gasThermometerBelief,
  isTank,
  shapeFamilies,
  stretchBeliefs,
} from './gas-priors.ts'
import { type GasHold, gasHold } from './gas-rows.ts'
import type { HoldStages } from './hold-stages.ts'
import { guardBanded } from './hold-verdict.ts'
import { pressureSignal } from './pressure-signal.ts'

/** What was found of one measured section of a hold. */
export interface SectionFinding {
  readonly section: string
  readonly leak: SectionLeak | null
  readonly allowance: AllowanceFigures
  readonly rawDropPa: number | null
  readonly verdict: Verdict
  readonly voids: readonly Reason[]
  readonly reasons: readonly Reason[]
  readonly secondsMore: number | null
  readonly curves: readonly HoldCurves[]
}

/** Creep time constants to try, as shares of the span. */
const creepShares = [0.12, 0.3, 0.8]

/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
const unknownWeatherPaPerS = 130 / 3600

/** Fits every measured section of a hold. */
export function sectionFindings(
  recording: Recording,
  system: System,
  stages: HoldStages,
  live: boolean,
): SectionFinding[] {
  const { spec } = stages
  const out: SectionFinding[] = []
  const measured = spec.sections.filter(
    (id) => pressureSignal(recording, system, { sections: [id] }) !== null,
  )
  for (const id of measured) {
    const section = system.sections.find((s) => s.id === id) as Section
    const others = measured.length === 1 ? spec.sections : [id]
    out.push(gasFinding(recording, system, stages, section, others, live))
  }
  return out
}

function gasFinding(
  recording: Recording,
  system: System,
  stages: HoldStages,
  section: Section,
  joined: readonly string[],
  live: boolean,
): SectionFinding {
  const { spec } = stages
  const signal = pressureSignal(recording, system, { sections: [section.id] })
  // The sample at the vent itself may already be falling.
  const untilS = stages.ventS === null ? stages.endS : stages.ventS - 1
  const hold = signal && gasHold(recording, system, stages, signal, joined, untilS)
  if (hold === null) throw new Error('too few samples')
  const fit = gasFit(hold.rows, gasBeliefs(hold, section, spec.pressurePa, spec.holdS))
  const volume = joined.reduce(
    (sum, id) => {
      const s = system.sections.find((x) => x.id === id) as Section
      return {
        volumeM3: sum.volumeM3 + s.volumeM3,
        toleranceM3: Math.hypot(sum.toleranceM3, s.volumeToleranceM3),
      }
    },
    { volumeM3: 0, toleranceM3: 0 },
  )
  const { leak, allowance, judged, allowed } = gasLeak(
    fit,
    hold,
    system,
    spec,
    section,
    volume,
    live ? 1.6 : 1,
  )
  const verdict = guardBanded(judged, allowed)
  return {
    section: section.id,
    leak,
    allowance,
    rawDropPa: rawDrop(hold, stages.holdS as number),
    verdict,
    voids: [],
    reasons: [],
    secondsMore: null,
    curves: [curvesOf(hold, fit, section)],
  }
}

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

function rawDrop(hold: GasHold, holdS: number): number {
  let first = 0
  while (first < hold.middleS.length - 1 && hold.middleS[first] < holdS) first++
  return hold.gaugePa[first] - hold.gaugePa[hold.gaugePa.length - 1]
}

function curvesOf(hold: GasHold, fit: GasFit, section: Section): HoldCurves {
  const { shape, coefficients: c, creepTauS } = fit.best
  const { regressors, response, heatAt } = gasColumns(hold.rows, shape, [creepTauS])
  const { heat, bend } = heatAt(c[place.heat])
  regressors[place.heat] = heat
  const n = hold.middleS.length
  const compensatedPa = new Float64Array(n)
  const leakLinePa = new Float64Array(n)
  const gauge = (log: number): number => hold.testPa * Math.exp(log) - hold.meanBarometricPa
  for (let i = 0; i < n; i++) {
    let cause = bend[i]
    for (const k of [
      place.heat,
      place.slowHeat,
      place.lead,
      place.temperature,
      place.barometer,
      place.creep,
    ]) {
      cause += c[k] * regressors[k][i]
    }
    compensatedPa[i] = gauge(response[i] - cause)
    leakLinePa[i] = gauge(c[place.level] + c[place.leak] * regressors[place.leak][i])
  }
  const { middleS: timeS, gaugePa, temperatureK, barometricPa } = hold
  return { section: section.id, timeS, gaugePa, compensatedPa, leakLinePa, temperatureK, barometricPa }
}
